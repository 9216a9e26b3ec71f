"""The first page: five sentences, and at most three things to change."""

from typing import Final

from watchdog.review.figures import Review
from watchdog.review.parts.changes import Change, Offer
from watchdog.review.parts.common import ENOUGH_JOBS
from watchdog.review.parts.losses import OTHER, UNSAID, Losses
from watchdog.review.sections.shape import (
    Section,
    count,
    day,
    interval,
    last_day,
    listed,
    percent,
    sentence,
    share,
    span,
)

MOST: Final = 3
TELLS: Final = {
    "improving": "fails less often than it did at the beginning of the term",
    "worsening": "fails more often than it did at the beginning of the term",
    "none shown": "shows no trend",
    "contradictory": "gives two tests that contradict each other, so no trend is claimed",
}


def five(review: Review) -> tuple[str, ...]:
    """What somebody reads who reads nothing else."""
    return _seen(review), _good(review), _lost(review), _alarms(review), _trend(review)


def section(review: Review) -> Section:
    """The three weightiest changes."""
    lines = tuple(change(one) for one in review.changes[:MOST])
    nothing = ("Nothing in these figures asks for a change.",)
    return Section("change", "What to change", lines or nothing, ("offers",))


def change(one: Change) -> str:
    """One offer in words, with its figure."""
    figure = one.figure
    if one.offer is Offer.ALARM:
        judged = count(figure.of, "label")
        sure = (
            "The whole interval lies below 70 %."
            if one.sure
            else "The interval still reaches above 70 %: a few more labels tell."
        )
        way = (
            "Retune its limits; it is urgent, so it is not for shelving."
            if one.urgent
            else "Retune its limits, or shelve it for a while."
        )
        return f"{one.subject}: of use in {percent(figure.share, figure.of)} of {judged} ({interval(figure)}). {sure} {way}"
    if one.offer is Offer.CAUSE:
        return f"{one.subject} is behind {share(figure)} of the failed jobs. Look there first."
    if one.offer is Offer.CHATTER:
        return f"{one.subject} came three times or more within a minute. A longer delay in its settings ends that."
    if one.offer is Offer.LABELS:
        return f"{share(figure)} of the ended jobs have no word on how the part came out. `emberward label` walks through them."
    if one.offer is Offer.FORECAST:
        return f"Foretold ends held in {share(figure)}; nine of ten are meant to. Look at the motion settings of the machine."
    return f"Alarms of priority {one.subject} were answered in time in {share(figure)}. Look at who is told, and how."


def _seen(review: Review) -> str:
    jobs, zone = review.jobs, review.zone
    term = f"From {day(review.since, zone)} to {last_day(review.until, zone)} the watch saw"
    hours = f", {span(jobs.taken.total)} of machine time" if jobs.taken.known else ""
    blind = sum(one.seconds for one in review.jobs.blind)
    unseen = f"; it was blind for {span(blind)}, all machines together" if blind else ""
    return f"{term} {count(jobs.jobs, 'job')} on {count(len(review.machines), 'machine')}{hours}{unseen}."


def _good(review: Review) -> str:
    good = review.jobs.good
    if not good.of:
        return "Nobody has said yet how a part came out, so nothing can be said of success."
    aside = f"; of {count(review.jobs.unsaid, 'ended job')} nobody has said anything" if review.jobs.unsaid else ""
    untold = f"; {count(review.jobs.unknown, 'part')} could not be told" if review.jobs.unknown else ""
    return (
        f"Of {count(good.of, 'job')} that people judged, {good.counted} came out good: {percent(good.share, good.of)}"
        f" (95 % interval {interval(good)}){aside}{untold}."
    )


def _lost(review: Review) -> str:
    lost = review.losses
    if not lost.failed:
        return "No job was called failed, so no loss is counted."
    grams = f" and {lost.grams.total:.0f} g of filament" if lost.grams.known else ""
    money = "" if lost.filament_money is None else f" ({lost.filament_money:.2f} at the price that is set)"
    failed = "The failed job" if lost.failed == 1 else f"The {lost.failed} failed jobs"
    return f"{failed} took {span(lost.seconds.total)} of machine time{grams}{money}{_cause(lost)}."


def _cause(lost: Losses) -> str:
    """The cause that came most often; none is put before another that came as often."""
    named = [loss for loss in lost.causes if loss.name not in (UNSAID, OTHER)]
    if not named:
        return ""
    most = named[0].jobs.counted
    first = [loss.name for loss in named if loss.jobs.counted == most]
    if most == 1 and len(first) > 1:
        return "; no cause was named twice"
    each = " each" if len(first) > 1 else ""
    return f"; most often named: {listed(first)}, {most} of {lost.failed}{each}"


def _alarms(review: Review) -> str:
    alarms, heat = review.alarms, review.heat
    if not alarms.raised:
        return "No alarm was raised."
    useful = "; nobody has judged one yet"
    if alarms.useful.of:
        useful = f"; of those that people judged {share(alarms.useful)} were of use"
    spared = ""
    if heat.minutes >= 1:
        spared = (
            f"; telling of idle heat spared at most {span(60 * heat.minutes)} of it (an estimate, n = {heat.judged})"
        )
    return sentence(
        f"{count(alarms.raised, 'alarm was', 'alarms were')} raised, {alarms.told} of them told to somebody{useful}{spared}."
    )


def _trend(review: Review) -> str:
    told = [f"{one.machine} {TELLS[one.verdict]}" for one in review.reliability if one.verdict in TELLS]
    few = [one.machine for one in review.reliability if one.verdict not in TELLS]
    if not told:
        least = f"{ENOUGH_JOBS} jobs and five failures of one machine are the least"
        return f"Whether a machine gets better or worse: too few to tell ({least})."
    rest = f"; of {listed(few)} there are too few jobs or failures to tell" if few else ""
    return f"Over the term {listed(told)}{rest}."
