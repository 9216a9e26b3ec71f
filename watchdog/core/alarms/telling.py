"""What is said about one alarm: to the record always, to people in a rhythm that they can bear."""

from dataclasses import replace

from watchdog.core.alarms.alarm import REMINDING, Alarm
from watchdog.core.alarms.standing import Standing
from watchdog.core.effects import AlarmChanged, Noted, Tell, TellKind, Transition
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment

CHATTER = 3  # raisings …
CHATTER_PERIOD = 600.0  # s; ISA-18.2 calls 'chattering' what repeats in a short period; 3 in 10 min: our choice
CHATTER_SILENCE = 3600.0  # s between two messages that it keeps returning


def burst(standing: Standing, now: float) -> tuple[Standing, bool]:
    """The memory of recent raisings with this one, and whether it is news to people."""
    recent = (*(raising for raising in standing.recent if now - raising < CHATTER_PERIOD), now)[-CHATTER:]
    bursts = len(recent) > 1
    told = standing.chatter_told if bursts else None
    news = told is None or now - told >= CHATTER_SILENCE
    if news and len(recent) == CHATTER:
        told = now
    return replace(standing, recent=recent, returns=standing.returns + 1 if bursts else 1, chatter_told=told), news


def next_gap(row: Alarm, standing: Standing) -> float:
    """s until it is said again."""
    rhythm = REMINDING[standing.priority or row.priority]
    if standing.gap is not None:
        return min(standing.gap * rhythm.growth, max(standing.gap, rhythm.longest))
    return row.remind_after if standing.priority is row.priority else rhythm.first


TO_ACKNOWLEDGE = "to_acknowledge"
"""in the evidence of an all-clear: the alarm has returned and waits for a person's acknowledgement"""


def tell(row: Alarm, standing: Standing, kind: TellKind, at: Moment) -> tuple[Standing, Tell]:
    """One message, counted, and when the next one is due. An all-clear is the last."""
    gap = None if kind is TellKind.ALL_CLEAR else next_gap(row, standing)
    standing = replace(standing, told=standing.told + 1, gap=gap, due=None if gap is None else at.elapsed + gap)
    evidence: Evidence = standing.evidence
    if len(standing.recent) == CHATTER and kind is not TellKind.ALL_CLEAR:
        evidence = {**evidence, "returns": standing.returns}
    priority, since = standing.priority or row.priority, standing.raised or at
    return standing, Tell(at, kind, row.name, standing.occurrence, priority, since, standing.told, evidence, gap)


def changed(transition: Transition, row: Alarm, standing: Standing, at: Moment) -> AlarmChanged:
    """One step for the record, with the evidence last seen."""
    priority = standing.priority or row.priority
    return AlarmChanged(at, row.name, standing.occurrence, transition, priority, standing.evidence)


def noted(kind: str, row: Alarm, standing: Standing, at: Moment) -> Noted:
    """What the fixed transitions have no word for; `silenced_by` is 'a person', a suppressing alarm, or None."""
    silence = "a person" if standing.shelf is not None else standing.suppressed_by
    facts: Evidence = {"alarm": row.name, "occurrence": standing.occurrence, "silenced_by": silence}
    return Noted(at, kind, {**standing.evidence, **facts})
