"""What `check` says of a job file: its findings, as text and as JSON."""

from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from watchdog.cli.common import paint, span
from watchdog.core.plan import Fault, Hold, Plan
from watchdog.settings import Settings
from watchdog.settings.fill import zone_of


class Verdict(NamedTuple):
    """What was found about one file."""

    file: Path
    plan: Plan
    upper: float
    """s that it takes at the most, as far as this machine's past (or the margins of a young one) tells"""
    taught: int
    """past jobs that tell"""
    start: float
    supervised: bool | None
    """whether somebody is there at the start; None: no hours are set, or they are not known"""
    until: float | None
    """stamp at which the supervised hours end; None when nobody is there, no hours are known, or they do not end for weeks"""
    hours_unknown: str | None
    """why a calendar that tells the hours cannot be relied on"""
    grams: float
    price: float | None
    faults: tuple[Fault, ...]

    @property
    def outlasts(self) -> bool:
        """It may still run when nobody is there any more."""
        if self.supervised is None:
            return False
        return not self.supervised or (self.until is not None and self.start + self.upper > self.until)


def lines(verdict: Verdict, settings: Settings, material: str) -> list[str]:
    """The verdict as text."""
    plan, zone = verdict.plan, zone_of(settings)

    def clock(stamp: float) -> str:
        return f"{datetime.fromtimestamp(stamp, zone):%a %H:%M}"

    shown = [
        paint(verdict.file.name, "bold") + f"   {plan.size:,} bytes, {len(plan.layers)} layers, {plan.moves:,} moves"
    ]
    basis = f"from {verdict.taught} past jobs of this machine" if verdict.taught else "no past jobs yet: a wide margin"
    shown.append(f"  takes      {span(plan.seconds)}, at the most {span(verdict.upper)} ({basis})")
    ends = f"{clock(verdict.start + plan.seconds)}, at the latest {clock(verdict.start + verdict.upper)}"
    shown.append(f"  start      {clock(verdict.start)} → done {ends} ({zone.key})")
    if verdict.hours_unknown is not None:
        shown.append(paint("  hours      not known, so ask who will be there until its end:", "bold"))
        shown.append(f"             {verdict.hours_unknown}")
    elif verdict.supervised is False:
        shown.append(paint("  hours      nobody is there at its start", "bold"))
    elif verdict.until is not None and verdict.outlasts:
        shown.append(paint(f"  hours      may run on after the supervised hours end at {clock(verdict.until)}", "bold"))
    elif verdict.until is not None:
        spare = span(verdict.until - verdict.start - verdict.upper)
        shown.append(f"  hours      supervised until {clock(verdict.until)}: {spare} to spare")
    price = "" if verdict.price is None else f", {verdict.price:.2f} at {settings.filament_price:.2f} a kg"
    shown.append(f"  filament   {plan.filament / 1000:.2f} m, {verdict.grams:.1f} g of {material}{price}")
    shown += [f"  person     {_pause(hold, verdict.start, zone)}" for hold in plan.pauses] or [
        "  person     not needed before its end"
    ]
    if plan.odd or plan.unknown:
        commands = ", ".join(code for code, _ in plan.unknown[:5])
        shown.append(f"  not read   {plan.odd} lines" + (f"; commands not known here: {commands}" if commands else ""))
    shown += [_fault(fault) for fault in verdict.faults]
    if not verdict.faults and not verdict.outlasts and verdict.hours_unknown is None:
        shown.append("  nothing was found that speaks against starting it, as far as the file tells")
    return [*shown, ""]


def _pause(hold: Hold, start: float, zone: ZoneInfo) -> str:
    when = f"{datetime.fromtimestamp(start + hold.at, zone):%a %H:%M}"
    return f"needed about {when}, {span(hold.at)} after the start ({hold.what or 'pause'})"


def _fault(fault: Fault) -> str:
    line = f" (line {fault.line:,})" if fault.line is not None else ""
    return paint(f"  ▲ {fault.name}", "red", "bold") + f"  {fault.words}{line}"


def plain(verdict: Verdict) -> dict[str, Any]:
    plan = verdict.plan
    return {
        "file": str(verdict.file),
        "bytes": plan.size,
        "digest": plan.digest,
        "seconds": round(plan.seconds, 1),
        "seconds_at_most": round(verdict.upper, 1),
        "past_jobs": verdict.taught,
        "start": round(verdict.start),
        "supervised_until": verdict.until,
        "outlasts_supervision": None if verdict.hours_unknown is not None else verdict.outlasts,
        "hours_unknown": verdict.hours_unknown,
        "filament_mm": round(plan.filament, 1),
        "filament_g": round(verdict.grams, 2),
        "price": None if verdict.price is None else round(verdict.price, 2),
        "layers": len(plan.layers),
        "holds": [hold._asdict() for hold in plan.holds],
        "faults": [fault._asdict() for fault in verdict.faults],
        "lines_not_read": plan.odd,
        "commands_not_known": dict(plan.unknown),
    }
