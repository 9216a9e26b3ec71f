"""Filament: how far the wire tells that it was fed.

Follows absolute and relative moves (G90, G91, M82, M83), renamed positions (G92) and what was drawn back: filament that
goes forward again over a retraction is no flow. G90 and G91 also set the filament axis, until M82 or M83
(RepRap community wiki, page "G-code", M82).
"""

from watchdog.core.machine.memory import Feed
from watchdog.core.observations import Command, Position

MOVES = frozenset({"G0", "G1", "G2", "G3"})
_LONGEST = 1000.0  # mm: more in one report is another counter, not flow; our choice


def move(feed: Feed, command: Command, now: float) -> tuple[Feed, bool]:
    """`feed` after one of `MOVES`, and whether it fed plastic while X or Y moved."""
    x, y, z, e = feed.x, feed.y, feed.z, feed.e
    absolute = feed.absolute
    went = across = False
    fed = 0.0
    for letter, value in command.words:
        if value is None:
            continue
        if letter == "X":
            to = value if absolute else None if x is None else x + value
            if to != x or (to is None and value):
                went = across = True
            x = to
        elif letter == "Y":
            to = value if absolute else None if y is None else y + value
            if to != y or (to is None and value):
                went = across = True
            y = to
        elif letter == "Z":
            to = value if absolute else None if z is None else z + value
            if to != z or (to is None and value):
                went = True
            z = to
        elif letter == "E":
            if not feed.e_absolute:
                fed = value
                e = None if e is None else e + value
            else:
                fed = 0.0 if e is None else value - e
                e = value
        elif letter in "IJ" and command.code in ("G2", "G3"):
            went = across = True  # a full circle ends where it began
    debt, flow = feed.debt, 0.0
    if fed < 0:
        debt -= fed
    elif fed > 0:
        flow = max(0.0, fed - debt)
        debt = max(0.0, debt - fed)
    in_place = 0.0 if went else feed.in_place + flow
    return Feed(
        x, y, z, e, absolute, feed.e_absolute, debt, in_place, feed.flowed + flow, now if flow > 0 else feed.flow_at
    ), across and flow > 0


def rename(feed: Feed, command: Command) -> Feed:
    """G92: positions take other names, nothing moves. Without words all are 0."""
    named = {letter: value for letter, value in command.words if value is not None}
    if not command.words:
        named = {"X": 0.0, "Y": 0.0, "Z": 0.0, "E": 0.0}
    return feed._replace(
        x=named.get("X", feed.x), y=named.get("Y", feed.y), z=named.get("Z", feed.z), e=named.get("E", feed.e)
    )


def mode(feed: Feed, code: str) -> Feed:
    """G90, G91, M82, M83."""
    if code in ("G90", "G91"):
        return feed._replace(absolute=code == "G90", e_absolute=code == "G90")
    return feed._replace(e_absolute=code == "M82")


def homed(feed: Feed) -> Feed:
    """G28, G29: the axes went somewhere."""
    return feed._replace(x=None, y=None, z=None, in_place=0.0)


def told(feed: Feed, seen: Position, now: float, streamed: bool) -> Feed:
    """The machine tells its axes. What a stream fed has been counted line by line already."""
    stood = (seen.x, seen.y, seen.z) == (feed.x, feed.y, feed.z)
    flow, debt = 0.0, feed.debt
    if not streamed and seen.e is not None and feed.e is not None and abs(seen.e - feed.e) <= _LONGEST:
        fed = seen.e - feed.e
        flow = max(0.0, fed - debt)
        debt = max(0.0, debt - fed) if fed > 0 or seen.e != 0 else debt  # a counter set to 0 drew nothing back
    return feed._replace(
        x=seen.x,
        y=seen.y,
        z=seen.z,
        e=feed.e if seen.e is None else seen.e,
        debt=debt,
        in_place=feed.in_place + flow if stood else 0.0,
        flowed=feed.flowed + flow,
        flow_at=now if flow > 0 else feed.flow_at,
    )


def restarted(feed: Feed) -> Feed:
    """After a reset the controller counts from the start and in absolute terms."""
    return Feed(e=0.0, flowed=feed.flowed, flow_at=feed.flow_at)
