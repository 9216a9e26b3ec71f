"""A world as text and back, so that a restarted watch goes on where it stopped."""

import json
from functools import cache
from typing import Any, NamedTuple

from pydantic import TypeAdapter, ValidationError

from watchdog.core import machine
from watchdog.core.alarms.book import Book
from watchdog.core.expectation import History
from watchdog.core.learning import Habits
from watchdog.core.observations import Setting
from watchdog.core.sensors import Reading
from watchdog.core.spool import Spool
from watchdog.core.step import Counts, Watch, World
from watchdog.service import beside
from watchdog.service.beside import Memories
from watchdog.sources.log_family import LogPlace


class LogMark(NamedTuple):
    """How far a followed log has gone into a world."""

    place: LogPlace
    beyond: int
    """lines of traffic behind `place` that are in the world already"""


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def freeze(watch: Watch, world: World, log: LogMark | None = None, memories: Memories | None = None) -> str:
    """`world` as JSON text, with how far a followed log has gone into it, and what is remembered beside it."""
    parts = {
        "machine": _adapter(machine.Memory).dump_python(world.machine, mode="json"),
        "book": _adapter(Book).dump_python(world.book, mode="json"),
        "counts": _adapter(Counts).dump_python(world.counts, mode="json"),
        "conditions": world.conditions,
        "answers": world.answers,
        "impairments": world.impairments,
        "history": _adapter(History).dump_python(world.history, mode="json"),
        "blind": world.blind,
        "habits": _adapter(Habits).dump_python(world.habits, mode="json"),
        "settings": _adapter(tuple[Setting, ...]).dump_python(world.settings, mode="json"),
        "readings": _adapter(tuple[Reading, ...]).dump_python(world.readings, mode="json"),
        "spool": _adapter(Spool | None).dump_python(world.spool, mode="json"),
        "allowed": world.allowed,
        "log": _adapter(LogMark).dump_python(log, mode="json") if log is not None else None,
        "beside": beside.freeze(memories) if memories is not None else None,
        "memories": {
            armed.detector.NAME: _adapter(_memory_of(armed.detector)).dump_python(memory, mode="json")
            for armed, memory in zip(watch.armed, world.memories, strict=True)
        },
    }
    return json.dumps(parts, separators=(",", ":"))


def thaw(watch: Watch, text: str) -> tuple[World, LogMark | None] | None:
    """The world and the log mark that `text` holds; None when another version wrote it and it does not fit.

    A detector that is new, or whose memory has changed its shape, starts afresh; the rest goes on.
    """
    try:
        parts = json.loads(text)
        world = World(
            machine=_adapter(machine.Memory).validate_json(json.dumps(parts["machine"])),
            memories=tuple(_memory(armed.detector, parts["memories"]) for armed in watch.armed),
            book=_adapter(Book).validate_json(json.dumps(parts["book"])),
            counts=_adapter(Counts).validate_json(json.dumps(parts["counts"])),
            conditions=tuple((str(subject), str(level)) for subject, level in parts["conditions"]),
            impairments=tuple(map(str, parts["impairments"])),
            history=_adapter(History).validate_json(json.dumps(parts["history"])),
            blind=float(parts["blind"]),
            habits=_adapter(Habits).validate_json(json.dumps(parts.get("habits", {}))),
            settings=_part(parts, "settings", tuple[Setting, ...], ()),
            readings=_part(parts, "readings", tuple[Reading, ...], ()),
            spool=_part(parts, "spool", Spool | None, None),
            allowed=_part(parts, "allowed", int | None, None),
        )
        log = parts["log"]
        return world, None if log is None else _adapter(LogMark).validate_json(json.dumps(log))
    except (ValidationError, ValueError, KeyError, TypeError):
        return None


def memories_in(text: str) -> Memories:
    """What was remembered beside a stored world; fresh memories when it holds none that fits."""
    try:
        parts = json.loads(text)
    except ValueError:
        return Memories()
    return beside.thaw(parts.get("beside")) if isinstance(parts, dict) else Memories()


def _memory_of(detector: Any) -> Any:
    return detector.Memory


def _memory(detector: Any, kept: dict[str, Any]) -> Any:
    try:
        return _adapter(_memory_of(detector)).validate_json(json.dumps(kept[detector.NAME]))
    except (KeyError, ValidationError):
        return detector.Memory()


def _part(parts: dict[str, Any], name: str, kind: Any, without: Any) -> Any:
    """A part that the world can do without: it will be told, listed or set again."""
    try:
        return _adapter(kind).validate_json(json.dumps(parts[name]))
    except (KeyError, ValidationError):
        return without


def settings_in(text: str) -> tuple[Setting, ...]:
    """What the machine listed of its own limits, out of a stored world; empty when it holds none that fits."""
    try:
        parts = json.loads(text)
    except ValueError:
        return ()
    listed: tuple[Setting, ...] = _part(parts, "settings", tuple[Setting, ...], ()) if isinstance(parts, dict) else ()
    return listed


def history_in(text: str) -> History:
    """What past jobs have taught, out of a stored world; an empty one when it holds none that fits."""
    try:
        found: History = _adapter(History).validate_json(json.dumps(json.loads(text)["history"]))
    except (ValidationError, ValueError, KeyError, TypeError):
        return History()
    return found
