"""Asking at a steady pace: which query is due now, if any.

Pure: what was heard goes in, with its time; a query comes out. The caller sends what `due` returns, in one write, and
asks again once a second or more often.

    memory = Polling()
    memory = heard(pace, memory, at, observations)         every line and every remark of the link, `link opened` first
    memory, query = due(pace, memory, at, idle)            None: nothing to send now

One query at a time; the next after its `ok` or after a time-out. Some controllers say `ok` before the answer, so whether
a query brought an answer is judged when it is due again.
"""

from watchdog.core.observations import Observation
from watchdog.dialect import answers
from watchdog.dialect.pace import NEVER, Asked, Pace, Polling
from watchdog.dialect.queries import permitted

TEMPERATURES, PROGRESS, FILE_NAME, ABOUT, SETTINGS = "M105", "M27", "M27 C", "M115", "M503"
_ABOUT_TRIES = 3  # a machine that answers others but never this one is left alone


def heard(pace: Pace, memory: Polling, at: float, observations: tuple[Observation, ...]) -> Polling:
    """What is known after one more line. `at`: elapsed s. What the watch itself sent need not be told."""
    return answers.heard(memory, at, observations)


def due(pace: Pace, memory: Polling, at: float, idle: bool | None) -> tuple[Polling, str | None]:
    """The query to send now, without line ending, or None; the memory counts it as sent.

    `at`: elapsed s. `idle`: True only when the machine is known to execute nothing.
    """
    if not memory.up or memory.writing:
        return memory, None
    if memory.outstanding is not None:
        if not _timed_out(pace, memory, at):
            return memory, None
        memory = memory._replace(
            outstanding=None,
            not_before=memory.sent_at + pace.repeat,
            unanswered=memory.unanswered + 1,
        )
    if at < memory.not_before:
        return memory, None
    memory = _judged(pace, memory, at)
    query = _next(pace, memory, at, idle)
    if query is None or not permitted(query, idle):
        return memory, None
    return _sent(memory, at, query), query


def _timed_out(pace: Pace, memory: Polling, at: float) -> bool:
    """A machine that is busy answers late, so signs of life put the time-out off, but not for ever: an `ok` can be lost."""
    patience = pace.patience * 2 ** min(memory.unanswered, 5)
    return at - memory.quiet_since >= pace.timeout or at - memory.sent_at >= patience


def _sent(memory: Polling, at: float, query: str) -> Polling:
    asked = memory.asked.get(query, Asked())
    return memory._replace(
        outstanding=query,
        sent_at=at,
        quiet_since=at,
        asked={**memory.asked, query: asked._replace(at=at, tries=asked.tries + 1, taken=False, answered=False)},
        name_asked=memory.name_asked or query == FILE_NAME,
    )


def _judged(pace: Pace, memory: Polling, at: float) -> Polling:
    """Count the queries that were taken (`ok`) and brought nothing until they are due again."""
    for query in (TEMPERATURES, PROGRESS, FILE_NAME):
        asked = memory.asked.get(query)
        if asked is not None and asked.taken and not asked.answered and at - asked.at >= pace.verdict:
            barren = asked.barren + 1
            known = asked._replace(taken=False, barren=barren)
            memory = memory._replace(asked={**memory.asked, query: known})
            if barren >= pace.barren:
                memory = memory._replace(unsupported=memory.unsupported | {query})
    return memory


def _next(pace: Pace, memory: Polling, at: float, idle: bool | None) -> str | None:
    """The query that is due first."""
    if not memory.greeted:  # after a connect or a banner: nothing else until the machine has spoken
        return TEMPERATURES
    if not memory.described and idle is True and memory.tries(ABOUT) < _ABOUT_TRIES and ABOUT not in memory.unsupported:
        return ABOUT
    asks_settings = idle is True and memory.described and not memory.listed and SETTINGS not in memory.unsupported
    if (
        asks_settings and memory.tries(SETTINGS) < _ABOUT_TRIES
    ):  # its own speeds and accelerations: plans are made for them
        return SETTINGS
    arm_temperatures, arm_progress = f"M155 S{pace.report}", f"M27 S{pace.report}"
    for arm, able, reported_at in (
        (arm_temperatures, memory.able("AUTOREPORT_TEMP"), memory.temperatures_reported),
        (arm_progress, memory.able("AUTOREPORT_SD_STATUS"), memory.progress_reported),
    ):
        if able and permitted(arm, idle) and _to_arm(pace, memory, at, arm, reported_at):
            return arm
    asks_name = memory.job_size and not memory.name_known and not memory.name_asked
    if asks_name and FILE_NAME not in memory.unsupported and at - memory.last(FILE_NAME) >= pace.name:
        return FILE_NAME
    waits: list[tuple[float, str]] = []
    if not _armed(pace, memory, at, arm_temperatures, memory.temperatures_reported):
        # Asked on even where it brings nothing: without it a silent machine and a dead one look the same.
        every = pace.repeat if TEMPERATURES in memory.unsupported else pace.temperature
        waits.append((_last_told(memory, TEMPERATURES, memory.temperatures_reported) + every, TEMPERATURES))
    asks_progress = PROGRESS not in memory.unsupported and memory.able("SDCARD") is not False
    if asks_progress and not _armed(pace, memory, at, arm_progress, memory.progress_reported):
        every = pace.progress_idle if idle else pace.progress
        waits.append((_last_told(memory, PROGRESS, memory.progress_reported) + every, PROGRESS))
    when, query = min(waits, default=(at + 1, ""))
    return query if when <= at + pace.slack else None


def _last_told(memory: Polling, query: str, reported_at: float | None) -> float:
    """When `query` was last asked, or what it asks for came by itself."""
    return max(memory.last(query), NEVER if reported_at is None else reported_at)


def _to_arm(pace: Pace, memory: Polling, at: float, arm: str, reported_at: float | None) -> bool:
    """Not ordered since the connect or banner, or long ago and without effect."""
    if arm in memory.unsupported:
        return False
    if arm not in memory.asked:
        return True
    silent = reported_at is None or at - reported_at >= pace.report * pace.missed
    return silent and at - memory.last(arm) >= pace.rearm


def _armed(pace: Pace, memory: Polling, at: float, arm: str, reported_at: float | None) -> bool:
    """Automatic reports were ordered, and they come. Until the first one is there, asking goes on."""
    if arm not in memory.asked or reported_at is None:
        return False
    return at - reported_at < pace.report * pace.missed
