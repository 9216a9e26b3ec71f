"""Files that were chosen, and the words that start, hold and end a card job: sent by the host, or queued by the panel."""

from collections.abc import Callable
from dataclasses import replace

from watchdog.core.machine import card, jobs, people
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.memory import Card, Chosen
from watchdog.core.observations import CardPresent, Command, FileNamed, FileOpened, Remark
from watchdog.core.snapshot import Execution, Origin


def opened(draft: Draft, seen: FileOpened) -> None:
    """A file was opened or chosen. With a card job that has read nothing yet, or of the same file, it is that job's."""
    job = draft.card_job()
    if job is not None and draft.card.inner:
        return
    if job is not None:
        same_size = seen.size is not None and seen.size == job.size
        if draft.progress.done is None or same_size or (seen.size is None and _alike(seen.name, job.file)):
            if (job.file is None and seen.name) or (job.size is None and seen.size):
                draft.job = replace(job, file=job.file or seen.name, size=job.size or seen.size)
            return
        if seen.size is None:
            return  # its size follows in the next line
        jobs.abandon(draft, "left for another")
    if draft.running() is not None:
        return
    old = draft.chosen
    if old is not None and (old.size is None or seen.size is None) and _alike(seen.name, old.name):
        draft.chosen = Chosen(old.at, old.name or seen.name, old.size or seen.size)
    else:
        draft.chosen = Chosen(draft.now, seen.name, seen.size)
    draft.card = Card(closed=True)
    if draft.axes.rest is not Execution.READY:
        draft.axes = draft.axes._replace(rest=Execution.READY)


def _alike(one: str | None, other: str | None) -> bool:
    """Names of one file, as far as can be told: upper and lower case and folders are told differently."""
    if one is None or other is None:
        return True
    return one.rpartition("/")[2].casefold() == other.rpartition("/")[2].casefold()


def named(draft: Draft, seen: FileNamed) -> None:
    """The machine tells which file is open."""
    name = seen.long or seen.short
    job = draft.card_job()
    if name is None:
        card.idle(draft)
    elif job is not None:
        if job.file != name and (seen.long is not None or job.file is None):
            draft.job = replace(job, file=name)
    elif draft.chosen is not None and draft.chosen.name != name:
        draft.chosen = draft.chosen._replace(name=name)


def mounted(draft: Draft, seen: CardPresent) -> None:
    """The card was mounted or let go."""
    if not seen.present:
        card.gone(draft)


def remark(draft: Draft, seen: Remark) -> None:
    """A job file may call another one; its counter and size are then that file's."""
    if "SUBROUTINE" in seen.text and draft.card_job() is not None:
        draft.card = draft.card._replace(inner="END SUBROUTINE" not in seen.text)


def _select(draft: Draft, command: Command) -> None:
    if draft.running() is None:
        draft.chosen = Chosen(draft.now, _name(command), None)
        draft.card = Card(closed=True)
        if draft.axes.rest is not Execution.READY:
            draft.axes = draft.axes._replace(rest=Execution.READY)


def _name(command: Command) -> str | None:
    return command.text.strip().strip('"#!') or None


def _go(draft: Draft, _command: Command) -> None:
    """M24 starts the chosen file, and goes on with a held one."""
    place = draft.card
    if draft.card_job() is not None:
        people.go_on(draft)
    elif draft.chosen is not None:
        jobs.start(draft, Origin.CARD, draft.at, draft.chosen, done=place.byte)
    elif place.byte is not None and place.size is not None and place.byte < place.size:
        jobs.start(draft, Origin.CARD, draft.at, Chosen(draft.now, None, place.size), done=place.byte)
    elif draft.running() is None:
        draft.card = Card(closed=True, go=True)


def _select_and_go(draft: Draft, command: Command) -> None:
    jobs.start(draft, Origin.CARD, draft.at, Chosen(draft.now, _name(command), None))
    draft.card = Card(closed=True)


def _hold(draft: Draft, _command: Command) -> None:
    if draft.card_job() is not None:
        people.hold(draft)


def _abort(draft: Draft, _command: Command) -> None:
    card.stopped(draft)


def _free(draft: Draft, _command: Command) -> None:
    """M999: a machine that stopped for a fault takes commands again."""
    if draft.axes.rest is Execution.FAULTED:
        draft.axes = draft.axes._replace(rest=Execution.READY)


def _answer(draft: Draft, _command: Command) -> None:
    """M108: somebody answered at the host."""
    draft.wait = None


COMMANDS: dict[str, Callable[[Draft, Command], None]] = {
    "M23": _select,
    "M24": _go,
    "M25": _hold,
    "M32": _select_and_go,
    "M108": _answer,
    "M524": _abort,
    "M999": _free,
}
"""What these do at once, whoever gives them."""
