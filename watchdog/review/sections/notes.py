"""How each figure is worked out, and where that comes from."""

from typing import Final, NamedTuple


class Note(NamedTuple):
    """One method."""

    title: str
    text: str


NOTES: Final = {
    "share": Note(
        "Shares",
        "A share of n with its two-sided 95 % Wilson interval: NIST/SEMATECH e-Handbook of Statistical Methods, "
        "7.2.4.1. Where people judged a part, their latest word counts; what nobody judged is left out of the "
        "share and counted beside it.",
    ),
    "pareto": Note(
        "Causes and origins",
        "Counted from the latest labels, largest first, of equal ones the one that took more time; 'so far' adds up the "
        "shares. A word outside the list of "
        "causes is counted as another and never shown, for it might name somebody. Pareto analysis is common "
        "practice, no source.",
    ),
    "money": Note(
        "Time, filament and money",
        "Time is from start to end of the failed jobs; filament is what they had taken; money is filament times "
        "the price a kilogram, and worn build surfaces times theirs, as the settings have them. People's time is "
        "not counted.",
    ),
    "heat": Note(
        "Heat spared",
        "An estimate, and an upper one. Seen: the alarm's heat ended. Otherwise: it would have stood at the "
        "temperature of the alarm until that machine's next job, or the end of the supervised day (outside the "
        "hours: midnight). The dose weighs minutes by Arrhenius' law with the material's activation energy, as "
        "equivalent minutes at its usual temperature.",
    ),
    "between": Note(
        "Time between failures",
        "Running time over failures of the machine, with two-sided 90 % chi-square bounds for an observation that "
        "ends at a set time; without a failure one-sided: NIST/SEMATECH e-Handbook, 8.4.5.1. A failure of the "
        "machine is a job called failed that nobody put down to design, handling, material or supply, or an "
        "unjudged job that ended with a halt.",
    ),
    "trend": Note(
        "Trend",
        "Exact reverse-arrangements test and Laplace test: NIST/SEMATECH e-Handbook, 8.2.3.4. A trend is claimed "
        "when one of the two shows it at 1.25 % one-sided, so that a machine without one is miscalled at most once "
        "in twenty reviews (Bonferroni); never on fewer than 100 jobs or 5 failures.",
    ),
    "duane": Note(
        "Duane plot",
        "Running time over failures so far, against running time, both logarithmic; a line that rises means longer "
        "times between failures: MIL-HDBK-189 (1981), appendix C. Drawn from 5 failures on. It is a picture and no "
        "test.",
    ),
    "cusum": Note(
        "Sum chart",
        "S = max(0, S + x - k) over judged jobs, x = 1 for a failed one; k and the limit are designed for a share "
        "of 1 % against 5 %, with 1,000 jobs until it is wrong, run lengths counted exactly: Reynolds & Stoumbos, "
        "Journal of Quality Technology 31 (1999), cited from memory.",
    ),
    "ranks": Note(
        "Medians and 'nine of ten'",
        "Percentiles by ranks: NIST/SEMATECH e-Handbook, 7.2.6.2. Interval of the median: 95 %, by ranks (sign "
        "test), whatever the distribution: Conover, Practical Nonparametric Statistics, cited from memory; it "
        "needs six values.",
    ),
    "forecast": Note(
        "Foretold ends",
        "The interval that was foretold as the job began, against the executed time. It is made to hold nine of "
        "ten: rank bounds after US EPA, EPA 530/R-09-007 (2009), chapter 18, once a machine has 19 jobs.",
    ),
    "survival": Note(
        "Life of build surfaces",
        "Kaplan-Meier estimate with Greenwood's limits: NIST/SEMATECH e-Handbook, 8.2.1.5 (section from memory). A "
        "life ends when the surface comes off worn, or with the first job that failed of it; others last at least "
        "so long.",
    ),
    "isa": Note(
        "Load of alarms",
        "Measures after ANSI/ISA-18.2 and EEMUA 191, from memory: about 5, 15 and 80 % urgent, high and low; a "
        "flood is more than 10 in 10 min, until fewer than 5; chattering is 3 in a minute; stale is more than a "
        "day. Shifts of 8 h from midnight.",
    ),
    "people": Note(
        "No person told apart",
        "No name and no role is in this review. Messages a person and week are pooled, and shown from three people "
        "on. 'In time' means acknowledged, or over, within the time to respond of the alarm table.",
    ),
    "blind": Note(
        "Blind",
        "Times in which the watch was off or asleep, or the machine could not be reached. What happened then is in "
        "no figure.",
    ),
    "offers": Note(
        "What is offered for a change",
        "Alarms of use less often than 70 %: below that, help is worse than none (Wickens & Dixon 2007, "
        "Theoretical Issues in Ergonomics Science 8). Then the commonest cause, chatter, missing labels, foretold "
        "ends and late answers.",
    ),
}
