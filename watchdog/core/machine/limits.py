"""What the machine state takes for granted, each with its unit and its reason."""

from dataclasses import dataclass

from watchdog.core.limits import limit


@dataclass(frozen=True, slots=True)
class Limits:
    """When a reading is old, a query unanswered, a job begun or over."""

    melts_at: float = limit(
        150.0, "°C", "nozzle heat from which the usual plastics melt; common practice, no source", least=60, most=400
    )
    cold_below: float = limit(
        50.0, "°C", "below this no plastic softens in the nozzle; common practice, no source", least=25, most=120
    )
    close: float = limit(
        3.0, "°C", "nearer to its target a heater counts as there; common practice, no source", least=1, most=20
    )
    drift: float = limit(
        10.0, "°C", "a nozzle that was there counts as there until it is this far off; our choice", least=3, most=50
    )
    stale_after: float = limit(20.0, "s", "ten missed reports at the usual two seconds; our choice", least=3, most=600)
    lowest: float = limit(-9.0, "°C", "no room is colder; open sensors read lower", least=-273, most=0)
    highest: float = limit(
        500.0, "°C", "no hot end of this kind gets there; unreadable sensors read higher", least=200, most=2000
    )
    rising_window: float = limit(30.0, "s", "a slow bed gains half a degree in it; our choice", least=5, most=300)
    rising_step: float = limit(0.5, "°C", "more than a reading wavers at rest; our choice", least=0.1, most=10)
    target_fresh: float = limit(
        120.0, "s", "a heater may take this long to show that it warms; our choice", least=10, most=900
    )
    answer_within: float = limit(
        5.0, "s", "a query without answer for this long counts as unanswered; our choice", least=1, most=120
    )
    unheard_serial: float = limit(
        60.0, "s", "a machine that is asked every few seconds and says nothing for this long is not known; our choice",
        least=10, most=3600,
    )  # fmt: skip
    unheard_listening: float = limit(300.0, "s", "a log may rest between jobs; our choice", least=30, most=86400)
    settled_after: float = limit(
        60.0, "s", "a job shows itself within a few reports; without a sign of one the machine counts as idle; our choice",
        least=10, most=3600,
    )  # fmt: skip
    job_lines: float = limit(
        4.0, "1", "streamed lines, homing or moves among them, with heat on, that make a job; a preheat and a single move "
        "by hand are fewer; our choice", least=1, most=100,
    )  # fmt: skip
    stream_pause: float = limit(
        10.0, "s", "without a line for this long a stream has paused or ended; our choice", least=2, most=600
    )
    nothing_built: float = limit(
        30.0, "s", "a stream that never fed plastic and stops for this long was no job; our choice", least=5, most=3600
    )
    word_gone: float = limit(
        20.0, "s", "ten missed keep-alives at the usual two seconds end a wait told by them; our choice",
        least=5, most=300,
    )  # fmt: skip
    wait_forgotten: float = limit(
        600.0, "s", "an idle machine's request that it never repeats is dropped after this; our choice",
        least=60, most=86400,
    )  # fmt: skip
    tail: float = limit(
        40000.0,
        "1",
        "bytes of settings at a job file's end that are read at once; common practice, no source",
        most=1e6,
    )
