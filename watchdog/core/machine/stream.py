"""A job that another program streams line by line.

Starts when, with a heater's target above 0, a line that moves in X or Y and feeds, or homing or a move among at least
`job_lines` lines, has been sent since the first heating, homing or motion line after a pause. A preheat alone is no job,
nor is one move by hand. Ends when the heaters are off (or nozzle and motors) and nothing has been sent for `stream_pause`;
there is no official end on the wire. Progress: distinct lines that were acknowledged. Queries are no lines of a job.
"""

from dataclasses import replace
from math import isfinite

from watchdog.core.commands import Sent, after
from watchdog.core.machine import dwell, feed, heat, jobs, people
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.memory import Owed, Progress, Stream
from watchdog.core.observations import Command, JobProgress
from watchdog.core.snapshot import Origin

QUERIES = frozenset(
    {
        "M20",
        "M27",
        "M31",
        "M33",
        "M36",
        "M78",
        "M105",
        "M110",
        "M111",
        "M113",
        "M114",
        "M115",
        "M118",
        "M119",
        "M122",
        "M123",
    }
    | {"M154", "M155", "M408", "M409", "M503"}
)
"""Codes that ask, report or number; no lines of a job."""
_NO_LINES = QUERIES | {
    "", "M21", "M22", "M23", "M24", "M25", "M26", "M28", "M29", "M30", "M32", "M108", "M112", "M410", "M524", "M876", "M928",
    "M999",
}  # fmt: skip
_HEATS = frozenset({"M104", "M109", "M140", "M190"})
_HOMES = frozenset({"G28", "G29"})
_MODES = frozenset({"G90", "G91", "M82", "M83"})
_WAITS = frozenset({"M0", "M1", "M226", "M600", "M601"})
_MOTORS_OFF = frozenset({"M18", "M84"})
_MOST_OWED = 64  # lines: more than any controller's buffers hold, so the oldest was taken


def sent(draft: Draft, command: Command) -> None:
    """A line was sent to the machine."""
    code, words, _text, number, _good = command
    stream = draft.stream
    top, numbered, fresh = stream.top, stream.numbered, True
    if number is not None:
        numbered += 1
        if code == "M110":
            named = dict(words).get("N")
            top = number if named is None else int(named)
            if draft.sight.doubt and draft.streamed_job() is not None:
                jobs.lose(draft)  # another program, or the same one afresh
        elif top is None or number > top:
            top = number
        else:
            fresh = False
    for _letter, value in words:
        if value is not None and not isfinite(value):
            command = command._replace(words=())
            break
    owed = draft.owed
    draft.owed = (*owed, Owed(draft.now, command, fresh))
    if len(owed) >= _MOST_OWED:
        draft.owed = draft.owed[1:]
        if owed[0].fresh:
            taken(draft, owed[0].command)
    if fresh and code not in _NO_LINES:
        _line(draft, command, not owed, top, numbered)
    elif number is not None:
        draft.stream = draft.stream._replace(top=top, numbered=numbered)


def _line(draft: Draft, command: Command, paid: bool, top: int | None, numbered: int) -> None:
    """A line that may belong to a job."""
    code, job, old = command.code, draft.running(), draft.stream
    if job is not None:
        if job.origin is Origin.CARD:
            draft.stream = old._replace(top=top, numbered=numbered)
            if code in heat.WAITS_FOR_HEAT:
                heat.command(draft, command)
            return
        jobs.trust(draft)
    now = draft.now
    nozzle_off, bed_off, motors_off = old.nozzle_off, old.bed_off, old.motors_off
    heats = homes = moves = feeds = False
    if code in feed.MOVES:
        across = False
        for letter, value in command.words:
            if value is None:
                continue
            if letter in "XY":
                across = moves = True
            elif letter == "Z":
                moves = True
            elif letter == "E":
                feeds = True
        feeds = feeds and across
        motors_off = motors_off and not (moves or feeds)
    elif code in _HEATS:
        words = dict(command.words)
        value = words.get("S", words.get("R"))
        if value is not None and not words.get("T"):
            heats = value > 0
            if code in ("M104", "M109"):
                nozzle_off = not heats
            else:
                bed_off = not heats
        if code in heat.WAITS_FOR_HEAT:
            heat.command(draft, command)
    elif code in _HOMES:
        homes, motors_off = True, False
    elif code in _MOTORS_OFF:
        motors_off = True
    elif code in _WAITS:
        people.wait(draft, "command", planned=True)
    dwells = dwell.after(old.dwells, command, now) if code in dwell.CODES else old.dwells
    if job is not None:
        draft.stream = Stream(
            top, numbered, now, None, 0, 0, False, False, nozzle_off, bed_off, motors_off, 0.0, dwells
        )
        return
    first, lines, acknowledged, moved, heated = old.first, old.lines, old.taken, old.moved, old.heated
    heating = old.heating
    if first is None or (paid and old.last_at is not None and now - old.last_at > draft.limits.stream_pause):
        first = draft.at if heats or homes or moves else None
        lines, acknowledged, moved, heated, heating = 0, 0, False, False, 0.0
        if first is not None:
            draft.sent = Sent(whole=heats or homes)  # one that begins with a move was met in the middle
    lines += 1
    moved = moved or homes or moves
    heated = (heated or heats) and not (nozzle_off and bed_off)
    draft.stream = Stream(
        top, numbered, now, first, lines, acknowledged, moved, heated, nozzle_off, bed_off, motors_off, heating, dwells
    )
    hot = heated or bool(draft.nozzle.target and draft.nozzle.target > 0) or bool(draft.bed.target)
    if first is not None and hot and (feeds or (moved and lines >= draft.limits.job_lines)):
        jobs.start(draft, Origin.STREAMED, first, done=acknowledged)
        draft.progress = draft.progress._replace(heating=heating)


def taken(draft: Draft, command: Command) -> None:
    """A line that was not known before has been acknowledged."""
    code, now = command.code, draft.now
    job = draft.running()
    draft.sent = after(draft.sent, code, command.text)
    if code not in _NO_LINES:
        if job is None:
            if draft.stream.first is not None:
                # A wait for heat is no pause of the stream: that is counted from the answer.
                draft.stream = draft.stream._replace(taken=draft.stream.taken + 1, last_at=now)
        elif job.origin is Origin.STREAMED:
            progress = draft.progress
            draft.progress = Progress((progress.done or 0) + 1, now, progress.heating)
    if code in feed.MOVES:
        draft.feed, across = feed.move(draft.feed, command, now)
        if across and job is not None and job.building_since is None and job.origin is Origin.STREAMED:
            jobs.built(draft)
        if across and (draft.hold or draft.wait) and draft.streamed_job() is not None:
            people.laid(draft)
    elif code == "G92":
        draft.feed = feed.rename(draft.feed, command)
    elif code in _MODES:
        draft.feed = feed.mode(draft.feed, code)
    elif code in _HOMES:
        draft.feed = feed.homed(draft.feed)
    elif code in ("M104", "M140"):
        heat.command(draft, command)
    elif code == "M73":
        words = dict(command.words)
        percent, minutes = words.get("P"), words.get("R")
        claimed(draft, JobProgress(percent, None if minutes is None else minutes * 60.0))
    if draft.wait is not None and (code in _WAITS or (code not in QUERIES and draft.wait.by in ("command", "words"))):
        draft.wait = None  # a machine that takes commands again has its answer


def claimed(draft: Draft, seen: JobProgress) -> None:
    """Progress by the job file's own marks. Its first estimate stands as the machine's expectation."""
    job = draft.running()
    if job is None or draft.sight.doubt:
        return
    now, percent, left = draft.now, job.percent, job.left
    if seen.percent is not None and seen.percent != percent:
        percent = seen.percent
        draft.progress = draft.progress._replace(moved_at=now)
    left_at = job.left_at
    if seen.left is not None:
        left, left_at = seen.left, now
    expected, by = job.expected, job.expected_by
    if expected is None and left:
        expected, by = max(0.0, now - job.started - job.held) + left, "machine"
    draft.job = replace(job, percent=percent, left=left, left_at=left_at, expected=expected, expected_by=by)


def quiet(draft: Draft) -> None:
    """What a stream's silence means: it has ended, or it never was a job, or it went on without us."""
    job, stream, limits, now = draft.streamed_job(), draft.stream, draft.limits, draft.now
    if job is None or draft.hold is not None or draft.wait is not None:
        return
    if draft.sight.doubt:
        heard = draft.heard is not None and draft.heard > draft.sight.since
        if heard and now - draft.sight.since >= limits.settled_after:
            jobs.lose(draft)
        return
    if stream.last_at is None:
        return
    still = now - stream.last_at
    if draft.owed and still < limits.settled_after:
        return
    nozzle_off = stream.nozzle_off or draft.nozzle.target == 0
    bed_off = stream.bed_off or draft.bed.target == 0
    if nozzle_off and (bed_off or stream.motors_off) and still >= limits.stream_pause:
        if job.building_since is None:
            jobs.abandon(draft, "nothing built")
        else:
            jobs.complete(draft)
    elif job.building_since is None and not draft.owed and still >= limits.nothing_built:
        jobs.abandon(draft, "nothing built")
