"""Lines → rows, in plain Python: the plain moves of a batch with few calls, all other lines one by one.

Plain moves are told from the rest by one pattern, their numbers are read in one go, and what is left of a line without its
numbers (`G X Y E`) says which is which. All other lines go to `Modal`, in their order.
"""

import re
from itertools import accumulate

from watchdog.jobfile.engine import MOST_ROWS, Engine

NOT_PLAIN = re.compile(rb"^(?!G[01](?: [XYZEF][0-9.-]+)+ *(?:;.*)?$).+$", re.MULTILINE)
STRICT = re.compile(rb"^(?!G[01](?: [XYZEF]-?(?:[0-9]+\.?[0-9]*|\.[0-9]+))+ *(?:;.*)?$).+$", re.MULTILINE)
TAIL = re.compile(rb" *;.*$", re.MULTILINE)
_DIGITS = b"0123456789.-"
_APART = bytes.maketrans(b"GXYZEF\n", b"       ")


def plain_moves(lines: bytes) -> tuple[bytes, list[float]]:
    """The lines, all but the plain moves blank and without comments, and the numbers of the moves, one for each letter."""
    for pattern in (NOT_PLAIN, STRICT):
        moves = pattern.sub(b"", lines)
        if b";" in moves:
            moves = TAIL.sub(b"", moves)
        numbers = _numbers_of(moves)
        if numbers is not None:
            return moves, numbers
    raise AssertionError("the strict pattern leaves nothing but numbers")


def _numbers_of(moves: bytes) -> list[float] | None:
    """None when numbers cannot be told apart so simply."""
    letters = len(moves.translate(None, _DIGITS + b" \n"))
    try:
        numbers = list(map(float, moves.translate(_APART).split()))
    except ValueError:
        return None
    return numbers if len(numbers) == letters else None


def walk(engine: Engine, lines: bytes, moves: bytes, numbers: list[float], at: int) -> None:
    """Every line in its order, into the engine's rows. `moves`: the same lines, all but the plain moves blank."""
    modal, rows, bounded = engine.modal, engine.rows, engine.rules.bounds is not None
    texts = lines.split(b"\n")
    texts.pop()
    shapes = moves.translate(None, _DIGITS).split(b"\n")
    ends = accumulate(map(len, texts), lambda end, length: end + length + 1, initial=at)
    start = next(ends)
    xs, ys, zs, es = rows.x.append, rows.y.append, rows.z.append, rows.e.append
    vs, starts, stops, highs = rows.v.append, rows.start.append, rows.end.append, rows.high.append
    x, y, z, e = modal.x, modal.y, modal.z, modal.e
    rough = modal.relative or modal.scale != 1.0
    relative_e = modal.relative_e
    v = modal.feed * modal.percent
    nth = 0
    for text, shape, end in zip(texts, shapes, ends, strict=False):
        if not shape:
            if text and text[0] != 59:  # ';'
                modal.x, modal.y, modal.z, modal.e = x, y, z, e
                line = text.decode("latin-1")
                if not engine.too_long(line):
                    count = len(rows.end)
                    modal.obey(line, start, end)
                    if bounded and len(rows.end) > count:
                        engine.bound(modal.x, modal.y, modal.z, start)
                    if len(rows.end) >= MOST_ROWS:
                        engine.drain()
                x, y, z, e = modal.x, modal.y, modal.z, modal.e
                rough = modal.relative or modal.scale != 1.0
                relative_e = modal.relative_e
                v = modal.feed * modal.percent
            start = end
            continue
        if rough:
            modal.x, modal.y, modal.z, modal.e = x, y, z, e
            nth += len(shape.split())
            count = len(rows.end)
            modal.obey(text.decode("latin-1"), start, end)
            x, y, z, e = modal.x, modal.y, modal.z, modal.e
            v = modal.feed * modal.percent
            if bounded and len(rows.end) > count:
                engine.bound(x, y, z, start)
            start = end
            continue
        if shape == b"G X Y E":
            x1, y1, e1 = numbers[nth + 1 : nth + 4]
            nth += 4
            xs(x1 - x)
            ys(y1 - y)
            zs(0.0)
            x, y = x1, y1
            if relative_e:
                es(e1)
                e += e1
            else:
                es(e1 - e)
                e = e1
        else:
            x0, y0, z0, e0 = x, y, z, e
            fed = feed = 0.0
            nth += 1
            for letter in shape.split()[1:]:
                value = numbers[nth]
                nth += 1
                if letter == b"X":
                    x = value
                elif letter == b"Y":
                    y = value
                elif letter == b"E":
                    fed = value if relative_e else value - e0
                    e = e0 + value if relative_e else value
                elif letter == b"Z":
                    z = value
                else:
                    feed = value
            if feed > 0:
                modal.feed = feed / 60
                v = modal.feed * modal.percent
            if x == x0 and y == y0 and z == z0 and not fed:
                start = end
                continue
            xs(x - x0)
            ys(y - y0)
            zs(z - z0)
            es(fed)
        if bounded:
            engine.bound(x, y, z, start)
        vs(v)
        starts(start)
        stops(end)
        highs(z)
        start = end
    modal.x, modal.y, modal.z, modal.e = x, y, z, e
