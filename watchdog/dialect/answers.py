"""What a line from the machine changes in the memory of the questions asked."""

from collections.abc import Iterator

from watchdog.core.observations import (
    Acknowledged,
    Busy,
    Capability,
    CardHeld,
    CardIdle,
    CardPresent,
    CardProgress,
    CardWriting,
    FileNamed,
    FileOpened,
    Firmware,
    JobDone,
    JobStopped,
    LinkDown,
    LinkUp,
    Observation,
    Setting,
    Started,
    Temperatures,
    UnknownCommand,
)
from watchdog.dialect.pace import Polling

_CARD_ANSWERS = ("M27", "M27 C")  # `M27 C` is taken for a plain M27 where it is not known
_SETTINGS = "M503"
_LISTING = 1.0  # s behind a line of the list in which nothing else is asked; a line takes a few ms
_LIST_ENDS = 10.0  # s after the question: settings told later than that are no part of its answer


def heard(memory: Polling, at: float, observations: tuple[Observation, ...]) -> Polling:
    """`memory` after one line at `at`, elapsed s."""
    acknowledged = any(type(told) is Acknowledged for told in observations)
    reading = any(type(told) is Temperatures for told in observations)
    if memory.outstanding == _SETTINGS:  # 2 to 4 kB, of which not every line is understood
        memory = memory._replace(quiet_since=at)
    for told in observations:
        match told:
            case Acknowledged():
                # `ok T:…` answers M105 and nothing else: a late one must not pass for the answer to another query.
                if not reading or memory.outstanding == "M105":
                    if memory.outstanding == _SETTINGS:
                        memory = memory._replace(not_before=at + _LISTING)
                    memory = _taken(memory)
            case Temperatures():
                memory = _temperatures(memory, at, acknowledged)
            case Busy():
                memory = memory._replace(quiet_since=at)
            case CardProgress() | CardIdle() | CardHeld():
                memory = _card_told(memory, at, told)
            case FileNamed():
                memory = _answered(memory, "M27 C")
                memory = memory._replace(name_known=memory.name_known or told.short is not None)
            case FileOpened():
                memory = memory._replace(name_known=told.name is not None, name_asked=False, job_size=0, job_byte=0)
                memory = _card_back(memory)
            case JobDone() | JobStopped():
                memory = _job_over(memory)
            case CardPresent():
                memory = _card_back(_job_over(memory)) if told.present else _job_over(memory)
            case CardWriting():
                memory = memory._replace(writing=told.on)
            case Capability():
                memory = memory._replace(capabilities={**memory.capabilities, told.name: told.present})
            case Firmware():
                memory = memory._replace(described=True)
            case Setting():
                if at - memory.last(_SETTINGS) < _LIST_ENDS:  # a machine that says `ok` first is still listing
                    memory = memory._replace(not_before=max(memory.not_before, at + _LISTING))
            case UnknownCommand():
                memory = memory._replace(unsupported=memory.unsupported | set(_unknown(memory, told.command)))
            case Started():  # all is to be learnt and armed again; what the controller can do stays known
                memory = Polling(memory.up, described=memory.described, capabilities=memory.capabilities)
            case LinkUp():
                memory = Polling(up=True)
            case LinkDown():
                memory = Polling()
            case _:
                pass
    return memory


def _taken(memory: Polling) -> Polling:
    """`ok`. Without a question it is somebody else's or a late one, but it is a sign of life all the same."""
    query = memory.outstanding
    if query is None:
        return memory._replace(greeted=True) if not memory.greeted else memory
    asked = memory.asked[query]._replace(taken=True)
    return memory._replace(
        outstanding=None,
        greeted=True,
        unanswered=0,
        described=memory.described or query == "M115",
        listed=memory.listed or query == _SETTINGS,
        asked={**memory.asked, query: asked},
    )


def _answered(memory: Polling, query: str) -> Polling:
    """What `query` asks for has come: it is supported."""
    asked = memory.asked.get(query)
    unsupported = memory.unsupported - {query} if query in memory.unsupported else memory.unsupported
    if asked is None or (asked.answered and asked.barren == 0):
        return memory if unsupported is memory.unsupported else memory._replace(unsupported=unsupported)
    answered = asked._replace(answered=True, barren=0)
    return memory._replace(unsupported=unsupported, asked={**memory.asked, query: answered})


def _temperatures(memory: Polling, at: float, acknowledged: bool) -> Polling:
    asked = memory.asked.get("M105")
    owed = asked is not None and not asked.answered
    memory = _answered(memory, "M105")._replace(quiet_since=at, greeted=True)
    # The first one after a question is its answer, on some controllers without `ok`; any other came by itself.
    return memory if acknowledged or owed else memory._replace(temperatures_reported=at)


def _card_told(memory: Polling, at: float, told: CardProgress | CardIdle | CardHeld) -> Polling:
    asked = memory.asked.get("M27")
    owed = (asked is not None and not asked.answered) or memory.outstanding in _CARD_ANSWERS
    memory = _answered(memory, "M27")
    if not owed:
        memory = memory._replace(progress_reported=at)
    if isinstance(told, CardIdle):
        return _job_over(memory) if memory.job_size else memory
    if isinstance(told, CardProgress) and told.size > 0:
        another = memory.job_size not in (0, told.size) or told.byte < memory.job_byte
        if another:
            memory = _job_over(memory)
        return memory._replace(job_size=told.size, job_byte=told.byte)
    return memory


def _job_over(memory: Polling) -> Polling:
    """The next job's name is unknown until it is told."""
    return memory._replace(job_size=0, job_byte=0, name_known=False, name_asked=False)


def _card_back(memory: Polling) -> Polling:
    """A card that was not there may have been why a query brought nothing."""
    return memory._replace(unsupported=memory.unsupported - set(_CARD_ANSWERS))


def _unknown(memory: Polling, command: str) -> Iterator[str]:
    """The queries that the machine says it does not know: the whole line, else all of ours with that code."""
    if not command:
        if memory.outstanding is not None:
            yield memory.outstanding
        return
    if command in memory.asked:
        yield command
        return
    code = command.split()[0]
    yield from (query for query in memory.asked if query.split()[0] == code)
