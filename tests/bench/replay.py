"""Lines a second through the whole core: dialect, machine state, every detector, every alarm.

    python -m tests.bench replay [--lines N] [--repeat N] [--json]

Four kinds of traffic, since a line and a tick (one a second of recorded time, in which every detector looks) cost differently:

    polled job      a job from the card, heat and progress asked for every second and answered at once: 5 lines a tick
    card job        a simulated job from the card as this watch records it; a busy machine answers late: 1 line a tick
    auto-reporting  the same job where the machine reports by itself: 1 line a tick
    streamed job    numbered moves with checksums, each acknowledged: 40 lines a tick

`lines_s` counts ticks in, as a replay meets them. `us_line` is the same traffic without ticks, `us_tick` the difference a
tick. `times_reading` compares with reading the same lines as text and parsing nothing but their time and direction.
Processor time of one thread, the best of `--repeat` runs: other work on the computer takes the core away, never adds to it.
"""

import argparse
import gc
import time
from collections import deque
from collections.abc import Callable, Iterator

from tests.bench.figures import Row, show
from watchdog.core.events import Line
from watchdog.core.moment import Moment
from watchdog.core.step import Watch, begin, step
from watchdog.core.traffic import Direction, TrafficLine, read_line, write_line
from watchdog.dialect import read
from watchdog.service.replay import Heard, Summary, run
from watchdog.settings import Settings
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine
from watchdog.simulator import laboratory

GOAL = 50_000  # lines a second
BEGIN = laboratory.EPOCH
LESSON = 5400.0  # s simulated at one go; longer traffic repeats it
JOB = "at 5 s choose cleat-hook.gcode\nat 8 s start\n"


def polled_job(seconds: float = LESSON) -> list[TrafficLine]:
    """Somebody else's poller on a machine that always has time."""
    size = 100 * int(seconds)
    lines = [_received(0.0, "start"), _received(0.5, f"File opened: HOOK.GCO Size: {size}")]
    lines.append(_received(0.6, "File selected"))
    for second in range(1, int(seconds)):
        lines += _exchange(second, "M105", HOT)
        lines += _exchange(second + 0.1, "M27", f"SD printing byte {100 * second}/{size}")
        lines.append(_received(second + 0.11, "ok"))
    return [*lines, _received(seconds, "Done printing file")]


def card_job() -> list[TrafficLine]:
    """A job from the card and some minutes after it, asked as this watch asks."""
    return laboratory.run(JOB, duration=LESSON)


def auto_reporting() -> list[TrafficLine]:
    """The same job, told by the machine itself."""
    return laboratory.run(JOB, duration=LESSON, reports=True)


def streamed_job(seconds: float = 1800.0) -> list[TrafficLine]:
    """Numbered moves with checksums, twenty a second, each acknowledged; temperatures asked for every 2 s."""
    lines = [_received(0.0, "start"), *_exchange(1.0, "M105", HOT)]
    at, number, length = 2.0, 0, 0.0
    for order in ("M110 N0", "M190 S60", "M109 S205", "G28", "G92 E0"):
        lines += _exchange(at, _numbered(number, order), "ok")
        number, at = number + 1, at + 0.5
    while at < seconds:
        for nth in range(40):
            length += 0.04217
            order = f"G1 X{100 + number % 61 * 0.613:.3f} Y{90 + number % 47 * 0.871:.3f} E{length:.5f}"
            lines += _exchange(at + nth * 0.05, _numbered(number, order), "ok")
            number += 1
        lines += _exchange(at + 1.99, "M105", HOT)
        at += 2.0
    return lines


HOT = "ok T:204.96 /205.00 B:59.98 /60.00 @:46 B@:33"


def _received(at: float, text: str) -> TrafficLine:
    return TrafficLine(BEGIN + at, Direction.RECEIVED, text)


def _exchange(at: float, asked: str, answer: str) -> list[TrafficLine]:
    return [TrafficLine(BEGIN + at, Direction.SENT, asked), _received(at + 0.004, answer)]


def _numbered(number: int, order: str) -> str:
    line = f"N{number} {order}"
    checksum = 0
    for byte in line.encode():
        checksum ^= byte
    return f"{line}*{checksum}"


def heard(lines: list[TrafficLine], count: int) -> list[Heard]:
    """`count` lines with their moments; the traffic begins again, later, as often as it takes."""
    span = lines[-1].stamp - lines[0].stamp + 60.0
    found: list[Heard] = []
    turn = 0.0
    while len(found) < count:
        found += [(Moment(line.stamp - BEGIN + turn, line.stamp + turn), line.direction, line.text) for line in lines]
        turn += span
    return found[:count]


def without_ticks(watch: Watch, traffic: list[Heard]) -> None:
    """What `watchdog.service.replay.run` does with the lines alone."""
    world = begin(watch, traffic[0][0])
    for at, direction, text in traffic:
        world, _ = step(watch, world, Line(at, direction, text, read(direction, text)))


def reading(text: str) -> int:
    """Split, and parse time and direction; the least that anything does with a recording."""
    return sum(read_line(line) is not None for line in text.split("\n"))


def measured(kind: str, lines: list[TrafficLine], count: int, repeat: int) -> Row:
    """One row of the table."""
    settings = Settings(machines={"doorway-1": Machine()})
    watch = watch_of("doorway-1", settings.machines["doorway-1"], settings)
    traffic = heard(lines, count)
    text = "\n".join(write_line(TrafficLine(at.stamp, direction, said)) for at, direction, said in traffic)
    summary = _last(run(watch, traffic))
    whole = _best(lambda: deque(run(watch, traffic), maxlen=0), repeat)
    alone = _best(lambda: without_ticks(watch, traffic), repeat)
    plain = _best(lambda: reading(text), repeat)
    return {
        "traffic": kind,
        "lines": summary.lines,
        "hours": round(summary.seconds / 3600, 1),
        "not understood": summary.unparsed,
        "lines_s": summary.lines / whole,
        "us_line": 1e6 * alone / summary.lines,
        "us_tick": 1e6 * (whole - alone) / summary.ticks,
        "ticks_share_%": 100 * (whole - alone) / whole,
        "times_reading": whole / plain,
    }


def _last(effects: Iterator[object]) -> Summary:
    (summary,) = deque(effects, maxlen=1)
    assert isinstance(summary, Summary)
    return summary


def _best(work: Callable[[], object], repeat: int) -> float:
    """s of this thread's processor time."""
    best = float("inf")
    for _ in range(repeat):
        gc.collect()
        began = time.thread_time()
        work()
        best = min(best, time.thread_time() - began)
    return best


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench replay", description=__doc__.split("\n")[0])
    parser.add_argument("--lines", type=int, default=100_000, help="lines of each kind (default 100,000)")
    parser.add_argument("--repeat", type=int, default=3, help="runs, of which the best counts (default 3)")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    kinds = {
        "polled job": polled_job,
        "card job": card_job,
        "auto-reporting": auto_reporting,
        "streamed job": streamed_job,
    }
    rows = [measured(kind, make(), asked.lines, asked.repeat) for kind, make in kinds.items()]
    show("replay", rows, [f"lines_s at least {GOAL:,} with every condition on"], as_json=asked.json)
