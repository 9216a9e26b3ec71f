"""Jobs, hours and success in words."""

from watchdog.review.figures import Review
from watchdog.review.sections.shape import Section, Table, count, share, span, summed


def section(review: Review) -> Section:
    """What was made."""
    jobs = review.jobs
    lines = [
        f"Jobs that began in the term: {jobs.jobs}"
        + (f"; {jobs.running} of them had not ended." if jobs.running else "."),
    ]
    if jobs.jobs > jobs.running:
        lines += [
            f"From start to end: {summed(jobs.taken)}. Executed: {summed(jobs.active)}. Held: {summed(jobs.held)}."
            f" Heating up: {summed(jobs.heating)}.",
            f"Good by people's word: {share(jobs.good)}. Looked at, and it cannot be told: {jobs.unknown}."
            f" Not said: {jobs.unsaid}.",
            f"Completed, as the machine told it: {share(jobs.completed)}. A completed job can hold a failed part, so the two"
            " differ.",
            f"With a time in which the watch was blind: {share(jobs.partly_blind)}.",
        ]
    endings = tuple(
        (one.ending, *map(str, (one.jobs, one.good, one.failed, one.unknown, one.unsaid))) for one in jobs.endings
    )
    heads = ("end", "jobs", "good", "failed", "cannot be told", "not said")
    tables = (
        [Table("How jobs ended, as the machine told it, and what people said of the part", heads, endings, "share")]
        if endings
        else []
    )
    blind = tuple((one.machine, span(one.seconds), str(one.spans)) for one in jobs.blind if one.spans)
    if blind:
        caption = f"Times in which the watch was blind ({count(len(review.machines), 'machine')})"
        tables.append(Table(caption, ("machine", "together", "times"), blind, "blind"))
    return Section("jobs", "Jobs and hours", tuple(lines), ("share", "blind"), tuple(tables))
