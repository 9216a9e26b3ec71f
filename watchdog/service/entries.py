"""What a person enters into the record: labels, what was seen to, sheets and spools.

The running service owns the record and does this for the commands; without one the command does it itself. Both go through
`enter`. Refusals are ValueErrors with a sentence that helps.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final, NamedTuple

from watchdog.core.materials import MATERIALS
from watchdog.record.labels import UnknownSubject, Words
from watchdog.record.store import Record
from watchdog.record.term_rows import Result, SheetRow, SpoolRow, Usefulness
from watchdog.review.due import BUILD_SURFACE
from watchdog.review.sheet_life import OTHER, WORN
from watchdog.service.said import number, words
from watchdog.service.subjects import LETTERS, missing, subject
from watchdog.settings import Settings
from watchdog.settings.model import Machine
from watchdog.settings.problems import nearest
from watchdog.settings.review import ORIGINS, items_of

COMMAND: Final = "command"
UNNAMED: Final = "printer"
"""what a machine is called that the settings do not name"""
THICK, STOCK = 1.80, 1.75
"""mm: above it 1.75 mm filament may stick in the feed; common practice, no source"""
Request = Mapping[str, Any]


class Entered(NamedTuple):
    """What became of it."""

    answer: dict[str, Any]
    spool_of: str | None = None
    """the machine whose spool is another one, or holds another amount"""


def enter(record: Record, settings: Settings, request: Request, now: float, by: str) -> Entered:
    """Do what `request` says, a transaction each. `now` and a request's own `at` are stamps; that may not lie ahead."""
    at = number(request.get("at"), "at", 0, now, "seconds before now")
    return VERBS[str(request["do"])](record, settings, request, now if at is None else at, by)


def machine_of(settings: Settings, request: Request) -> str:
    """The machine that is meant; the only one when none is said."""
    names = sorted(settings.machines) or [UNNAMED]
    asked = request.get("machine")
    if asked in names:
        return str(asked)
    if asked is None and len(names) == 1:
        return names[0]
    said = "say which machine" if asked is None else f"there is no machine {str(asked)[:60]!r}. Say which"
    raise ValueError(f"{said}: {', '.join(names)}.")


def nominal(settings: Settings, machine: str) -> float:
    """mm: the filament that the machine takes."""
    return settings.machines.get(machine, Machine()).filament_diameter


def flow_error(measured: float, stock: float) -> float:
    """By how much too much (above 0) or too little comes out when `measured` mm is fed as `stock`: (d/d₀)² - 1."""
    return (measured / stock) ** 2 - 1


def _label(record: Record, settings: Settings, request: Request, at: float, by: str) -> Entered:
    kind, about = subject(record, str(request.get("about", "")))
    cause, origin = _cause(settings, request)
    said = Words(
        _one_of(Result, request.get("outcome"), "outcome", (Result.GOOD, Result.FAILED, Result.UNKNOWN)),
        cause,
        origin,
        words(request.get("remedy"), "remedy"),
        words(request.get("note"), "note"),
        _one_of(Usefulness, request.get("useful"), "useful", tuple(Usefulness)),
    )
    try:
        label = record.label(kind, about, said, at=at, by=by, how=COMMAND)
    except UnknownSubject:
        raise missing(kind, about) from None
    now = record.label_now(kind, about)
    return Entered({"label": label, "about": f"{LETTERS[kind]}{about}", "kind": kind.value, "now": now._asdict()})


def _cause(settings: Settings, request: Request) -> tuple[str | None, str | None]:
    """The cause and where it comes from: as said, else as the settings have it."""
    cause, origin = words(request.get("cause"), "cause", 60), words(request.get("origin"), "origin", 60)
    causes = settings.review.causes
    if cause is not None and cause not in causes:
        raise ValueError(f"{cause!r} is no cause here. {nearest(cause, causes)} The list is [review] causes.")
    if origin is not None and origin not in ORIGINS:
        raise ValueError(f"{origin!r} is no origin. {nearest(origin, ORIGINS)}")
    return cause, origin if origin is not None or cause is None else causes[cause]


def _one_of(kind: Any, said: object, what: str, allowed: tuple[Any, ...]) -> Any:
    word = words(said, what, 60)
    if word is not None and word not in {one.value for one in allowed}:
        raise ValueError(f"{what}: {word!r} is none. {nearest(word, [one.value for one in allowed])}")
    return None if word is None else kind(word)


def _done(record: Record, settings: Settings, request: Request, at: float, by: str) -> Entered:
    machine = machine_of(settings, request)
    items = [item.name for item in items_of(settings.upkeep, machine)]
    item = words(request.get("item"), "item", 60) or ""
    if item not in items:
        known = nearest(item, items) if items else "The settings name nothing for it."
        raise ValueError(f"{item!r} is nothing that is kept for {machine}. {known}")
    record.done(machine, item, at=at, by=by, note=words(request.get("note"), "note") or "")
    return Entered({"machine": machine, "item": item, "at": at})


def _sheet(record: Record, settings: Settings, request: Request, at: float, by: str) -> Entered:
    machine, why = machine_of(settings, request), words(request.get("why"), "why", 60)
    if why is not None and why not in WORN | OTHER:
        raise ValueError(f"why: {why!r} is no reason here. {nearest(why, WORN | OTHER)}")
    note = words(request.get("note"), "note") or ""
    before = next((sheet for sheet in reversed(record.sheets(machine)) if sheet.ended is None), None)
    if request.get("what") == "off":
        off = record.sheet_off(machine, at=at, by=by, why=why)
        return Entered({"machine": machine, "off": off, "jobs": _borne(record, machine, before)})
    number = record.new_sheet(machine, at=at, by=by, why=why, note=note)
    if any(item.name == BUILD_SURFACE for item in items_of(settings.upkeep, machine)):
        record.done(machine, BUILD_SURFACE, at=at, by=by, note=f"sheet {number}")
    return Entered({"machine": machine, "sheet": number, "jobs": _borne(record, machine, before)})


def _borne(record: Record, machine: str, before: SheetRow | None) -> int | None:
    """Jobs on the sheet that came off, by the time for which it was entered; None when none was on."""
    return next((sheet.jobs for sheet in record.sheets(machine) if before is not None and sheet.id == before.id), None)


def _spool(record: Record, settings: Settings, request: Request, at: float, by: str) -> Entered:
    machine = machine_of(settings, request)
    if request.get("what") == "off":
        return Entered({"machine": machine, "off": record.unload_spool(machine, at=at)}, machine)
    material = str(request.get("material") or settings.machines.get(machine, Machine()).material).upper()
    if material not in MATERIALS:
        raise ValueError(f"material: {material[:60]!r} is not known here. {nearest(material[:60], MATERIALS)}")
    stock = nominal(settings, machine)
    diameter = number(request.get("diameter"), "diameter", 0.5 * stock, 1.5 * stock, "mm")
    record.load_spool(
        machine,
        at=at,
        by=by,
        material=material,
        density=MATERIALS[material].density,
        diameter=diameter or stock,
        net=number(request.get("grams"), "grams", 0, 20_000, "g"),
        empty=number(request.get("empty"), "empty", 0, 5_000, "g"),
        note=words(request.get("note"), "note") or "",
    )
    if diameter is not None:
        record.measure_filament(machine, at=at, by=by, mm=diameter)
    return Entered(account(record, settings, machine), machine)


def _weigh(record: Record, settings: Settings, request: Request, at: float, by: str) -> Entered:
    machine = machine_of(settings, request)
    spool = _loaded(record, machine)
    weight = number(request.get("grams"), "weight", 0, 25_000, "g")
    if weight is None:
        raise ValueError("weight: say what the spool weighs, with what is on it, in g.")
    if spool.empty is not None and weight < spool.empty:
        raise ValueError(
            f"weight: {weight:g} g is less than the empty spool weighs, {spool.empty:g} g. Weigh it again."
        )
    record.weigh_spool(spool.id, at=at, by=by, weight=weight, note=words(request.get("note"), "note") or "")
    return Entered(account(record, settings, machine), machine)


def _measure(record: Record, settings: Settings, request: Request, at: float, by: str) -> Entered:
    machine = machine_of(settings, request)
    spool, stock = _loaded(record, machine), nominal(settings, machine)
    mm = number(request.get("mm"), "diameter", 0.5 * stock, 1.5 * stock, "mm")
    if mm is None:
        raise ValueError("diameter: say what was measured, in mm.")
    record.measure_filament(machine, at=at, by=by, mm=mm, spool=spool.id, note=words(request.get("note"), "note") or "")
    return Entered(account(record, settings, machine), machine)


def _loaded(record: Record, machine: str) -> SpoolRow:
    rows = record.spools(machine, loaded_only=True)
    if not rows:
        raise ValueError(
            f"no spool is entered for {machine}. Enter it: emberward spool load --material PLA --grams 1000"
        )
    return rows[-1]


def account(record: Record, settings: Settings, machine: str) -> dict[str, Any]:
    """The loaded spool of `machine`, with what its diameter means."""
    return spool_facts(_loaded(record, machine), nominal(settings, machine), bool(record.diameters(machine)))


def spool_facts(spool: SpoolRow, stock: float, measured: bool) -> dict[str, Any]:
    """`spool` as JSON. `measured`: somebody measured filament there; else nothing is said of its flow."""
    return {
        **spool._asdict(),
        "flow_error": flow_error(spool.diameter, stock) if measured else None,
        "too_thick": stock == STOCK and spool.diameter > THICK,
    }


VERBS: Final[Mapping[str, Callable[[Record, Settings, Request, float, str], Entered]]] = {
    "label": _label,
    "done": _done,
    "sheet": _sheet,
    "spool": _spool,
    "weigh": _weigh,
    "measure": _measure,
}
"""what a request's `do` may be"""
