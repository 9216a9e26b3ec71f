"""Heat, reliability, durations and build surfaces in words."""

from watchdog.review.figures import Review
from watchdog.review.parts.common import ENOUGH_JOBS
from watchdog.review.parts.reliability import FEWEST, Reliability
from watchdog.review.sections.first import TELLS
from watchdog.review.sections.shape import (
    NOTHING,
    Picture,
    Section,
    Table,
    count,
    listed,
    middle,
    percent,
    sentence,
    share,
    span,
)
from watchdog.review.sheet_life import FEWEST as FEWEST_SHEETS


def heat(review: Review) -> Section:
    """Heat without a job."""
    hot = review.heat
    lines = [
        f"The nozzle was hot for {span(60 * hot.idle)} without a job, and for {span(60 * hot.in_jobs)} with one (whole"
        " minutes, as far as they were seen).",
        sentence(
            f"{count(hot.alarms, 'alarm')} hot-idle; told, and then seen to end: {hot.judged} (only these can be judged)."
        ),
    ]
    if hot.judged and hot.minutes < 1:
        lines.append("Estimate: no heat was spared, since the nozzle was wanted again at once.")
    elif hot.judged:
        lines.append(
            f"Estimate, at most: {span(60 * hot.minutes)} of heat spared; for the plastic that is as much as {hot.dose:.0f} min"
            f" at its usual temperature (each time: median {middle(hot.each, ' min')})."
        )
    return Section("heat", "Heat without a job", tuple(lines), ("heat",))


def reliability(review: Review) -> Section:
    """How often machines fail."""
    if not review.reliability:
        return Section("reliability", "How often a machine fails", ("No job, so nothing to tell.",), ("between",))
    rows = tuple(_row(one) for one in review.reliability)
    heads = ("machine", "jobs", "running", "failures", "time between", "90 % bounds", "trend")
    lines = [_claim(one) for one in review.reliability if one.trend is not None]
    if few := [one.machine for one in review.reliability if one.trend is None]:
        least = f"{ENOUGH_JOBS} jobs and {FEWEST} failures are the least"
        lines.append(f"Too few to tell a trend ({least}): {listed(few)}.")
    charts = charted(review)
    if any(one.cusum.sums for one in review.reliability):
        lines.append(_charts(review, charts))
    pictures = []
    if charts:
        judged = ", ".join(f"{one.machine} {len(one.cusum.sums)}" for one in charts)
        alt = f"Running sum of failed jobs against its limit. {' '.join(map(_chart, charts))}"
        pictures.append(Picture("cusum", f"Sum chart of failed jobs (judged jobs: {judged})", alt, "cusum"))
    drawn = [one for one in review.reliability if one.duane is not None]
    if drawn:
        alt = "Time between failures so far over running time, both logarithmic. " + " ".join(
            _slope(one) for one in drawn
        )
        failures = ", ".join(f"{one.machine} {len(one.failures)}" for one in drawn)
        pictures.append(Picture("duane", f"Duane plot (failures: {failures})", alt, "duane"))
    table = Table("Running time and failures of each machine", heads, rows, "between")
    return Section(
        "reliability",
        "How often a machine fails",
        tuple(lines),
        ("between", "trend", "cusum"),
        (table,),
        tuple(pictures),
    )


def charted(review: Review) -> list[Reliability]:
    """Machines of which enough jobs were judged for a sum chart. A limit that is passed on fewer would claim too much."""
    return [one for one in review.reliability if len(one.cusum.sums) >= ENOUGH_JOBS]


def _charts(review: Review, charts: list[Reliability]) -> str:
    few = [f"{one.machine} ({len(one.cusum.sums)})" for one in review.reliability if len(one.cusum.sums) < ENOUGH_JOBS]
    rest = f" Too few judged jobs for it ({ENOUGH_JOBS} are the least): {listed(few)}." if few else ""
    if not charts:
        return f"A sum chart would tell a share of failed jobs near 5 % from one near 1 %.{rest}"
    chart = charts[0].cusum
    return (
        "The sum chart tells a share of failed jobs near 5 % from one near 1 %. At 1 % it reaches its limit once in"
        f" {chart.healthy_run:.0f} judged jobs on average, at 5 % after {chart.bad_run:.0f}."
        f" {' '.join(map(_chart, charts))}{rest}"
    )


def _row(one: Reliability) -> tuple[str, ...]:
    found = one.between
    if found is None:
        bounds = NOTHING
    elif found.high is None:
        bounds = f"at least {span(found.low)}"
    else:
        bounds = f"{span(found.low)} to {span(found.high)}"
    middle_time = NOTHING if found is None else span(found.estimate)
    unknown = f" ({one.jobs_without_time} jobs not known)" if one.jobs_without_time else ""
    running = span(one.running) + unknown
    return one.machine, str(one.jobs), running, str(len(one.failures)), middle_time, bounds, one.verdict


def _claim(one: Reliability) -> str:
    tests = ""
    if one.trend is not None:
        tests = (
            f"; reverse arrangements R = {one.trend.reversals}, chance alone {_chance(one.trend.reversals_improving)} for"
            f" improving and {_chance(one.trend.reversals_worsening)} for worsening; Laplace z = {one.trend.laplace:.2f},"
            f" {_chance(one.trend.laplace_improving)} and {_chance(one.trend.laplace_worsening)}"
        )
    return f"{one.machine} {TELLS[one.verdict]} (jobs {one.jobs}, failures {len(one.failures)}{tests})."


def _chance(probability: float) -> str:
    return percent(probability, 100)


def _chart(one: Reliability) -> str:
    verdict = f"the limit is reached at judged job {one.cusum.first}: more fail than 1 %. Look at what came before"
    if one.cusum.first is None:
        verdict = "the limit is not reached"
    return f"{one.machine} (judged jobs {len(one.cusum.sums)}): {verdict}."


def _slope(one: Reliability) -> str:
    slope = 0.0 if one.duane is None else one.duane.slope
    return f"{one.machine}: {count(len(one.failures), 'failure')}, slope of the line {slope:.2f}."


def durations(review: Review) -> Section:
    """Planned and real."""
    took = review.durations
    title = "Planned and real durations"
    if not took.ratio.of and not took.inside.of:
        return Section(
            "durations",
            title,
            (sentence(f"{count(took.completed, 'completed job')}, none with a plan."),),
            ("ranks",),
        )
    more = "more" if took.seconds_over >= 0 else "less"
    lines = [
        f"Real over planned, holds left out: median {middle(took.ratio, ' ×', 2)}; together"
        f" {span(abs(took.seconds_over))} {more} than planned.",
        f"The foretold interval held the end in {share(took.inside)}; {took.early} ended before it, {took.late} after. Nine of"
        " ten are meant to fall into it.",
    ]
    alt = f"Histogram of real over planned duration of {count(took.ratio.of, 'job')}: median {middle(took.ratio, ' ×', 2)}."
    picture = Picture("ratios", f"Real over planned duration, n = {took.ratio.of}", alt, "ranks")
    return Section("durations", title, tuple(lines), ("ranks", "forecast"), (), (picture,) if took.ratio.of > 1 else ())


def sheets(review: Review) -> Section:
    """Life of build surfaces."""
    found = review.sheets
    known = found.ended + found.lasting
    counts = (
        f"Of {count(known, 'build surface')} in the whole record {found.ended} wore out; the others last, or came off for"
        " another reason."
    )
    if found.life is None:
        return Section(
            "sheets",
            "Build surfaces",
            (f"{counts} Too few to tell a life ({FEWEST_SHEETS} are the least).",),
            ("survival",),
        )

    def jobs(value: float | None) -> str:
        return "not known" if value is None else f"{value:.0f}"

    life = found.life
    limits = f"95 % interval {jobs(life.low)} to {jobs(life.high)}, n = {known}"
    line = f"Half of them last {jobs(life.middle)} jobs ({limits})."
    alt = f"Share of build surfaces that last over the number of jobs, in steps. {line}"
    picture = Picture(
        "sheets",
        f"Share that lasts, over jobs borne (worn out {found.ended}, lasting {found.lasting})",
        alt,
        "survival",
    )
    return Section("sheets", "Build surfaces", (counts, line), ("survival",), (), (picture,))
