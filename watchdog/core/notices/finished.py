"""A job is finished, for whoever asked to be told."""

from collections.abc import Iterable

from watchdog.core.effects import Effect, JobChanged, Tell
from watchdog.core.notices.notice import JOB_FINISHED, notice
from watchdog.core.snapshot import Snapshot


def look(effects: Iterable[Effect], seen: Snapshot) -> Tell | None:
    """The notice when `effects` of a step hold a job that was completed."""
    for effect in effects:
        if isinstance(effect, JobChanged) and effect.event == "completed":
            facts = {"job": effect.number, "took_s": round(effect.elapsed), "nozzle": seen.nozzle.now}
            return notice(JOB_FINISHED, effect.at, effect.number, facts)
    return None
