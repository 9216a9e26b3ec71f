"""Heaters: what was told of them, whether they warm up, and how hot the nozzle is said to be.

A missing target keeps the last one told: some reports leave it out, which is not the same as off. A reading that no sensor
can mean makes the nozzle `unknown`, never `cold`. Looks at temperature reports (°C) and at heating commands.
"""

from dataclasses import replace

from watchdog.core.machine import people
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.limits import Limits
from watchdog.core.machine.memory import Memory, Owed, Trend
from watchdog.core.observations import Command, Reading, Temperatures
from watchdog.core.snapshot import Heater, Hotend, Source

WAITS_FOR_HEAT = frozenset({"M109", "M190", "M191"})
_NOZZLE = frozenset({"M104", "M109"})
_BED = frozenset({"M140", "M190"})
_LISTENING_PATIENCE = 120.0  # s: a log's reports may come this far apart at most; our choice


def report(draft: Draft, seen: Temperatures) -> None:
    """Take a temperature report in."""
    now = draft.now
    draft.paid_at = now
    if seen.waiting:
        draft.warming_at = now
    if seen.nozzle is not None:
        draft.nozzle = nozzle = _told(draft.nozzle, seen.nozzle, now)
        draft.nozzle_trend = _followed(draft.limits, draft.nozzle_trend, nozzle)
        draft.hot_before = False
        if seen.paused_target is not None:
            people.hold(draft, "target")
        elif draft.hold is not None and draft.hold.by == "target" and nozzle.target:
            draft.hold = None
        draft.sensor_bad = bool(seen.sensor_flag)
    if seen.bed is not None:
        draft.bed = bed = _told(draft.bed, seen.bed, now)
        draft.bed_trend = _followed(draft.limits, draft.bed_trend, bed)
    if not draft.sight.known and off(draft):  # nothing is built without heat
        draft.sight = draft.sight._replace(known=True)


def _told(heater: Heater, reading: Reading, now: float) -> Heater:
    value, target, power = reading
    since, told_at, top = heater.target_since, heater.target_at, heater.power_top
    if target is None:
        target = heater.target  # left out: the last one told stands
    else:
        told_at = now
        if target != heater.target:
            since = now
    if power is not None and (top is None or power > top):
        top = power
    if heater.now is None:
        return Heater(value, target, power, top, now, heater.previous, heater.previous_at, since, told_at)
    return Heater(value, target, power, top, now, heater.now, heater.at, since, told_at)


def _followed(limits: Limits, trend: Trend, heater: Heater) -> Trend:
    value, at = heater.now, heater.at
    if value is None or at is None:
        return trend
    if trend.start is None:
        return Trend(value, at, False)
    if at - trend.since < limits.rising_window:
        return trend
    return Trend(value, at, value - trend.start >= limits.rising_step)


def command(draft: Draft, sent: Command) -> None:
    """A heating command sets the target until a report tells otherwise."""
    words = dict(sent.words)
    target = words.get("S", words.get("R"))
    if target is None or words.get("T"):  # without a number it changes nothing; T1 … is another tool
        return
    if sent.code in _NOZZLE:
        draft.nozzle = _commanded(draft.nozzle, target, draft.now)
    elif sent.code in _BED:
        draft.bed = _commanded(draft.bed, target, draft.now)


def _commanded(heater: Heater, target: float, now: float) -> Heater:
    since = heater.target_since if target == heater.target else now
    return replace(heater, target=target, target_since=since, target_at=now)


def off(seen: Draft | Memory) -> bool:
    """Every heater was told, and is off."""
    return seen.nozzle.target == 0 and not seen.bed.target


def last_hot(limits: Limits, seen: Draft | Memory) -> bool:
    """By what was last told: molten, a target above 0, or a job that has not ended."""
    return (
        seen.hot_before
        or (seen.nozzle.now is not None and seen.nozzle.now >= limits.melts_at)
        or bool(seen.nozzle.target and seen.nozzle.target > 0)
        or bool(seen.bed.target and seen.bed.target > 0)
        or (seen.job is not None and seen.job.ended is None)
    )


def stale(limits: Limits, source: Source, heater: Heater, now: float) -> bool:
    """The reading is too old to stand for the present, or there is none. A log keeps the pace of its own reports."""
    if heater.at is None:
        return True
    age = now - heater.at
    if age <= limits.stale_after:
        return False
    if source is Source.SERIAL or heater.previous_at is None:
        return True
    return age > min(3 * (heater.at - heater.previous_at), _LISTENING_PATIENCE)


def hotend(limits: Limits, seen: Draft | Memory, now: float) -> Hotend:
    """How hot the nozzle is said to be. A nozzle that was at its target stays so until it has left it clearly."""
    heater = seen.nozzle
    value, target = heater.now, heater.target
    if value is None or stale(limits, seen.source, heater, now):
        return Hotend.UNKNOWN
    if seen.sensor_bad or value <= limits.lowest or value >= limits.highest:
        return Hotend.UNKNOWN
    last = seen.axes.hotend
    margin = limits.drift if last is Hotend.HOT else limits.close
    if target is not None and target > 0:
        if value < target - margin:
            return Hotend.HEATING
        return Hotend.COOLING if value > target + margin else Hotend.HOT
    told_off = target == 0 and heater.target_at is not None and heater.at is not None and heater.target_at >= heater.at
    if not told_off and _waits(limits, seen, now):
        return Hotend.HEATING  # by its own words, and this report did not tell that it is off
    if value < limits.cold_below + (2.0 if last is Hotend.COLD else 0.0):
        return Hotend.COLD
    return Hotend.COOLING if told_off else Hotend.HOT


def heating_up(limits: Limits, seen: Draft | Memory, now: float) -> bool | None:
    """The machine warms up, by its own words or by its readings; None when that cannot be told."""
    if _waits(limits, seen, now):
        return True
    if seen.owed and waits_for_heat(seen.owed):
        return True
    nozzle = _warms(limits, seen.source, seen.nozzle, seen.nozzle_trend, now)
    if nozzle:
        return True
    return True if _warms(limits, seen.source, seen.bed, seen.bed_trend, now) else nozzle


def _waits(limits: Limits, seen: Draft | Memory, now: float) -> bool:
    return seen.warming_at is not None and now - seen.warming_at <= limits.stale_after / 2


def waits_for_heat(owed: tuple[Owed, ...]) -> bool:
    """A command that waits for heat is not acknowledged yet."""
    return any(line.command.code in WAITS_FOR_HEAT for line in owed)


def _warms(limits: Limits, source: Source, heater: Heater, trend: Trend, now: float) -> bool | None:
    if heater.now is None or heater.target is None or stale(limits, source, heater, now):
        return None
    if heater.target - heater.now <= limits.close:
        return False
    return trend.rising or (heater.target_since is not None and now - heater.target_since < limits.target_fresh)


def blanked(heater: Heater) -> Heater:
    """Nothing is known of it any more, but for the scale of its power."""
    return Heater(power_top=heater.power_top)
