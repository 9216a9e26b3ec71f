"""A job that the machine reads from its own card, by the place of its reader.

Traps of that counter, each handled here (controllers' published source code; RepRap community wiki, page "G-code", M27):
it is printed for any open file, running or not, so only its moving tells a job; `0/0` means a card and no file; the full
count is not the end, since the last moves still run; "not printing" may come before the word that the job is done; it runs
back at repeats and in called files; another size, or a fall to near the start, is another job. These lines carry no checksum:
a lost digit makes another size or place, so what fits nothing told before counts only when the next report bears it out.
"""

from dataclasses import replace

from watchdog.core.machine import heat, jobs, people
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.memory import Card, Chosen, Progress
from watchdog.core.observations import CardProgress
from watchdog.core.snapshot import Execution, Job, Origin

_NEAR_START = 0.02  # of the size: a job's first lines; our choice
_NEAR_END = 0.02  # of the size: what controller queues hold, and more; our choice
_OUTLIER = 0.5  # of a jump: who lands nearer than this to the place before it was misread in between; our choice
_WARM = 5.0  # °C: nearer to its target than this the nozzle may print; our choice


def progress(draft: Draft, seen: CardProgress) -> None:
    """The reader's place in the open file was told."""
    if seen.size <= 0:  # a card is in, no file is open
        idle(draft)
        return
    if seen.byte > seen.size:
        return  # no reader gets there: a damaged line
    job = draft.card_job()
    if job is not None:
        _goes_on(draft, job, seen)
    else:
        _rests(draft, seen)


def _place(draft: Draft, seen: CardProgress, step: int) -> None:
    card = draft.card
    before = card.byte if card.size == seen.size else None
    draft.card = Card(seen.byte, seen.size, draft.now, step, inner=card.inner, before=before)


def _doubtful(draft: Draft, seen: CardProgress) -> bool:
    """This report fits nothing told before, and the one before it did not say the like."""
    odd = draft.card.odd
    if odd is not None and odd[1] == seen.size and seen.byte >= odd[0]:
        return False
    draft.card = draft.card._replace(odd=(seen.byte, seen.size))
    return True


def _misread(card: Card, seen: CardProgress) -> bool:
    """The place before this one leapt ahead, and this one is back where the leap began."""
    last, before = card.byte, card.before
    if last is None or before is None or card.size != seen.size:
        return False
    leap = last - before
    return seen.byte == before or (leap > _NEAR_START * seen.size and 0 <= seen.byte - before < _OUTLIER * leap)


def _rests(draft: Draft, seen: CardProgress) -> None:
    """No card job is known to run."""
    card, byte = draft.card, seen.byte
    strange = card.byte is not None and (card.size != seen.size or 0 < byte < card.byte)
    if strange and not card.go and _doubtful(draft, seen):
        return
    known = card.closed or card.byte is not None
    same = card.size == seen.size and card.byte is not None
    moved = byte != card.byte if same else known  # a first sight tells no movement
    go = card.go
    _place(draft, seen, 0)
    if byte == 0:
        _choose(draft, seen.size)
    if seen.held and byte > 0 and draft.running() is None:
        _begin(draft, seen)
        people.hold(draft)
    elif go or (
        moved and 0 < byte < seen.size and (draft.axes.rest is not Execution.FAULTED or draft.chosen is not None)
    ):
        job = _begin(draft, seen)
        if moved:
            _move(draft, job, seen.byte)


def _choose(draft: Draft, size: int) -> None:
    chosen = draft.chosen
    if draft.running() is not None:
        return
    if chosen is None or (chosen.size is not None and chosen.size != size):
        draft.chosen = Chosen(draft.now, None, size)
    elif chosen.size is None:
        draft.chosen = chosen._replace(size=size)
    _ready(draft)


def _ready(draft: Draft) -> None:
    if draft.axes.rest not in (Execution.READY, Execution.FAULTED):
        draft.axes = draft.axes._replace(rest=Execution.READY)
    if not draft.sight.known:
        draft.sight = draft.sight._replace(known=True)


def _begin(draft: Draft, seen: CardProgress) -> Job:
    chosen = draft.chosen
    if chosen is None or (chosen.size is not None and chosen.size != seen.size):
        chosen = Chosen(draft.now, None, seen.size)
    return jobs.start(draft, Origin.CARD, draft.at, chosen._replace(size=seen.size), done=seen.byte)


def _goes_on(draft: Draft, job: Job, seen: CardProgress) -> None:
    """A card job runs, as far as is known."""
    card, byte = draft.card, seen.byte
    last = card.byte
    if job.size is None:
        draft.job = job = replace(job, size=seen.size)
    called = seen.size != job.size and (card.inner or seen.size == card.size)
    if called or (seen.size == job.size and card.size not in (None, job.size)):
        _place(draft, seen, 0)  # in a called file, or back from it: the count says that the job moves, not how far
        if byte != last:
            draft.progress = draft.progress._replace(moved_at=draft.now)
        return
    if draft.sight.doubt and (seen.size != job.size or (last is not None and byte < last)):
        if _doubtful(draft, seen):
            return
        jobs.lose(draft)
        draft.card = Card()
        _rests(draft, seen)
        return
    odd = card.odd
    lowest = odd[0] if odd is not None and odd[1] == seen.size and odd[0] <= byte else byte  # a short job goes fast
    fell_to_start = last is not None and byte < last and lowest <= _NEAR_START * seen.size < last - lowest
    if seen.size != job.size or (fell_to_start and not card.inner):
        if _doubtful(draft, seen):
            return
        if last is not None and card.size is not None and last >= card.size:
            jobs.complete(draft)
        else:
            jobs.abandon(draft, "left for another")
        draft.card = Card(closed=True)
        _rests(draft, seen)
        return
    jobs.trust(draft)
    if last is None:
        first = draft.progress.done is None
        _place(draft, seen, 0)
        draft.progress = draft.progress._replace(done=byte)
        if first and byte > 0:
            _move(draft, job, byte)
    elif byte != last:
        step = max(0, byte - last)
        if byte < last and not card.inner:
            if _misread(card, seen):
                step = byte - (card.before or 0)
            elif _doubtful(draft, seen):
                return
            else:
                draft.marks = draft.marks._replace(byte_fell_at=draft.now)
        _place(draft, seen, step)
        _move(draft, job, byte)
    else:
        _place(draft, seen, card.step)
    if seen.held:
        people.hold(draft)
    if draft.hold is not None and not draft.hold.settled:
        draft.hold = draft.hold._replace(settled=True)
    if draft.wait is not None and not draft.wait.settled:
        draft.wait = draft.wait._replace(settled=True)


def _move(draft: Draft, job: Job, byte: int) -> None:
    """The counter moved: the job goes on, and builds if it is warm."""
    now = draft.now
    draft.progress = Progress(byte, now, draft.progress.heating)
    if draft.hold is not None and draft.hold.settled and draft.hold.by == "word":
        draft.hold = None
    if draft.wait is not None and draft.wait.settled:
        draft.wait = None
    if job.running is not True or (job.building_since is None and _warm(draft, job)):
        draft.job = job = replace(
            job,
            running=True,
            building_since=now if job.building_since is None and _warm(draft, job) else job.building_since,
        )
    if job.building_since is not None:
        draft.feed = draft.feed._replace(flow_at=now)


def _warm(draft: Draft, job: Job) -> bool:
    """The nozzle is at a target at which plastic melts, and nothing else warms up. Unknown heat counts after a while."""
    nozzle, limits, now = draft.nozzle, draft.limits, draft.now
    if nozzle.now is None or nozzle.target is None or heat.stale(limits, draft.source, nozzle, now):
        return now - job.started >= limits.settled_after
    return (
        nozzle.target > 0
        and nozzle.now >= limits.melts_at
        and nozzle.now >= nozzle.target - _WARM
        and heat.heating_up(limits, draft, now) is not True
    )


def idle(draft: Draft) -> None:
    """The machine says that it executes no file."""
    job, card = draft.card_job(), draft.card
    if job is None:
        if draft.running() is None:
            if draft.chosen is not None and card.told_at is not None and card.told_at > draft.chosen.at:
                draft.chosen = None
            if not draft.sight.known:
                draft.sight = draft.sight._replace(known=True)
        if card.go or not card.closed:
            draft.card = Card(closed=True, go=card.go and card.idles == 0, idles=card.idles + 1)
        return
    if draft.sight.doubt:
        jobs.lose(draft)
        draft.card = Card(closed=True)
        draft.sight = draft.sight._replace(known=True)
        return
    halting = draft.hold or draft.wait
    if halting is not None and not halting.settled and not heat.off(draft) and not _forgotten(draft):
        return  # some say so while a job is held
    if card.byte is None and card.idles == 0 and draft.now - job.started < draft.limits.stale_after:
        draft.card = card._replace(idles=1)  # the answer to a question from before the start
        return
    if _near_end(draft):
        jobs.complete(draft)
    elif card.idles > 0 or heat.off(draft):
        jobs.abandon(draft, "stopped")
    else:
        draft.card = card._replace(idles=card.idles + 1)
        if job.running is not False:
            draft.job = replace(job, running=False)
        return
    draft.card = Card(closed=True)


def _forgotten(draft: Draft) -> bool:
    """The whole file was read, and what halted the job has not been said again for long: the word of its end was lost."""
    card, hold, wait = draft.card, draft.hold, draft.wait
    told_at = max(hold.since if hold else 0.0, wait.told_at if wait else 0.0)
    full = card.byte is not None and card.byte == card.size
    return full and draft.now - told_at >= draft.limits.wait_forgotten


def _near_end(draft: Draft) -> bool:
    """What is left of the file is read at once at its end, as far as can be told."""
    card = draft.card
    if card.byte is None or card.size is None:
        return False
    left = card.size - card.byte
    tail = draft.limits.tail if card.byte >= 0.8 * card.size else 0.0
    return left <= max(_NEAR_END * card.size, 3.0 * card.step, tail)


def done(draft: Draft) -> None:
    """The machine says that the file was executed to its end."""
    if draft.card_job() is not None:
        jobs.complete(draft)
        draft.card = Card(closed=True)


def stopped(draft: Draft) -> None:
    """The machine says that the job was ended early."""
    if draft.card_job() is not None:
        jobs.abandon(draft, "stopped")
        draft.card = Card(closed=True)


def held(draft: Draft) -> None:
    """The machine says that its card job is held."""
    job = draft.card_job()
    if job is None:
        if draft.running() is not None or draft.axes.rest is Execution.FAULTED:
            return
        job = jobs.start(draft, Origin.CARD, draft.at, draft.chosen)
    jobs.trust(draft)
    if job.running is not False:
        draft.job = replace(job, running=False)
    people.hold(draft)


def gone(draft: Draft) -> None:
    """The card was let go. A job that ran from it is over."""
    draft.chosen = None
    if draft.card_job() is not None:
        draft.marks = draft.marks._replace(card_gone_at=draft.now)
        jobs.abandon(draft, "card gone")
    draft.card = Card(closed=True)
