"""Run a finished recording through the very core that watches live, under the recording's own clock. Tells nobody."""

from collections.abc import Callable, Iterable, Iterator
from typing import Any, NamedTuple

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, StateChanged, Tell
from watchdog.core.events import Line, Tick
from watchdog.core.moment import Moment
from watchdog.core.step import Watch, World, begin, step
from watchdog.core.traffic import Direction, stamp_text
from watchdog.dialect import read

Heard = tuple[Moment, Direction, str]
LONGEST_GAP = 86_400.0  # s of silence that are ticked through; a longer gap in a recording is two recordings


class Summary(NamedTuple):
    """What a replay came to."""

    lines: int
    unparsed: int
    damaged: int
    seconds: float
    ticks: int


def run(
    watch: Watch, heard: Iterable[Heard], progress: Callable[[int], None] | None = None
) -> Iterator[Effect | Summary]:
    """Each effect as it comes about, then the summary. `progress` is called every 10,000 lines with their count."""
    world: World | None = None
    first = last = Moment(0.0, 0.0)
    due = 0.0
    lines = ticks = 0
    for at, direction, text in heard:
        if world is None:
            world, first, due = begin(watch, at), at, at.elapsed + 1.0
        if at.elapsed - due > LONGEST_GAP:
            due = at.elapsed
        while due <= at.elapsed:
            world, effects = step(watch, world, Tick(Moment(due, at.stamp - (at.elapsed - due))))
            yield from effects
            due += 1.0
            ticks += 1
        world, effects = step(watch, world, Line(at, direction, text, read(direction, text)))
        if effects:
            yield from effects
        last = at
        lines += 1
        if progress is not None and not lines % 10_000:
            progress(lines)
    counts = world.counts if world is not None else None
    yield Summary(
        lines, counts.unparsed if counts else 0, counts.damaged if counts else 0, last.elapsed - first.elapsed, ticks
    )


def told(machine: str, effect: Effect | Summary) -> dict[str, Any] | None:
    """`effect` as an object of ``replay --json``; None for what that format does not show."""
    match effect:
        case AlarmChanged():
            shown: dict[str, Any] = {
                "alarm": effect.alarm,
                "transition": effect.transition.value,
                "priority": effect.priority.value,
                "occurrence": effect.occurrence,
                "evidence": dict(effect.evidence),
            }
            return _row(machine, effect.at, "alarm", shown)
        case StateChanged() if effect.axis.startswith("condition."):
            shown = {"subject": effect.axis.removeprefix("condition."), "from": effect.before, "to": effect.after}
            return _row(machine, effect.at, "condition", shown)
        case StateChanged():
            return _row(machine, effect.at, effect.axis, {"from": effect.before, "to": effect.after})
        case JobChanged():
            shown = {"event": effect.event, "file": effect.file, "bytes": effect.size, "origin": effect.origin}
            return _row(machine, effect.at, "job", {**shown, "job": effect.number, "why": effect.why})
        case Noted():
            return _row(machine, effect.at, "event", {"event": effect.kind, **effect.facts})
        case Summary():
            return {"kind": "summary", "machine": machine, **effect._asdict(), "seconds": round(effect.seconds, 3)}
        case Tell():
            return None


def _row(machine: str, at: Moment, kind: str, facts: dict[str, Any]) -> dict[str, Any]:
    return {"at": stamp_text(at.stamp), "machine": machine, "kind": kind, **facts}
