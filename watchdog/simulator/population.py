"""Machines as schools have them: drawn by a seed, no two alike, and what healthy people do with them in four hours.

    machine = draw(1007)
    record(healthy_day(machine, 4 * 3600), seed=1007, duration=4 * 3600, options=machine.options, pace=machine.pace)

The same seed gives the same machine, whatever was drawn before. Ranges: common practice, no source.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from random import Random

from watchdog.dialect.pace import Pace
from watchdog.simulator.heat import BED, HOT_END
from watchdog.simulator.jobs import make_job
from watchdog.simulator.machine import Options
from watchdog.simulator.regulation import HOT_END as GAINS
from watchdog.simulator.streaming import Streaming

MATERIALS = {"PLA": (205, 60), "PETG": (240, 80)}
"""°C of nozzle and bed by the material's name"""
SHORT = "short.gcode"
"""a job of some minutes, in which a fault strikes"""
LONG_NAME = "fairlead pair, both halves on one plate, second try with a slower first layer (R-014).gcode"
DWELLING = "pattern letters with a rest.gcode"
CHANGING = "two-colour-plate.gcode"
SEGMENTS = "many-small-segments.gcode"
PLATE = "rudder-pintle.gcode"
"""the longest job"""
STREAMED = 0.2
"""share of the machines to which a computer streams"""
BYTES_A_LINE = 35
"""of a streamed job, number and checksum included; roughly, by the sample jobs"""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A machine and how it is watched."""

    seed: int
    options: Options
    pace: Pace
    reports: bool
    """it may be ordered to report by itself"""
    material: str
    heats: tuple[int, int]
    """°C of nozzle and bed in its jobs"""
    traits: tuple[str, ...]
    """what is special about it, in words"""
    streaming: Streaming | None = None
    """how a computer streams its jobs; None: they run from the card"""
    motion: float | None = None
    """mm a step of a wheel in the filament's path; None: it has none"""


def draw(seed: int, *, streamed: bool | None = None, motion: bool | None = None) -> Drawn:
    """The machine of this seed: with a streaming computer or a motion sensor or without, as drawn where it is not said."""
    return _equipped(_machine(seed), streamed, motion)


def _equipped(drawn: Drawn, streamed: bool | None, motion: bool | None) -> Drawn:
    """The computer and the sensor beside a machine, and the computer's cable."""
    random = Random(f"beside {drawn.seed}")
    streams, senses = random.random() < STREAMED, random.random() < 0.5
    computer = Streaming(
        asks=random.choice((1.0, 2.0, 2.0, 5.0, 10.0)),
        reacts=random.choice((0.002, 0.005, 0.02)),
        numbers_questions=random.random() < 0.5,
        watches=random.random() < 0.5,
    )
    # 0.05 to 0.2 % of damaged lines are routine; the check values of link-errors count 0.2 % as healthy.
    damaged = random.uniform(0.0005, 0.002) if random.random() < 0.4 else 0.0
    step = random.choice((0.5, 1.0, 2.0, 2.9))
    if motion or (motion is None and senses):
        drawn = replace(drawn, motion=step)
    if not (streams if streamed is None else streamed):
        return drawn
    traits = (*drawn.traits, "streamed", *(("noisy cable",) if damaged else ()))
    options = replace(drawn.options, bit_errors=damaged / BYTES_A_LINE)
    return replace(drawn, options=options, traits=traits, streaming=computer)


@lru_cache(maxsize=8)  # its files take a quarter of a second, and each fault of one seed has the same machine
def _machine(seed: int) -> Drawn:
    random = Random(f"machine {seed}")
    traits: list[str] = []
    material = random.choices(list(MATERIALS), (4, 1))[0]
    nozzle, bed = MATERIALS[material]
    heats = (nozzle + random.randrange(-5, 11, 5), bed + random.choice((-5, 0, 0, 5)))
    ambient = random.gauss(21.0, 2.5)
    if random.random() < 0.1:
        ambient = random.uniform(8.0, 13.0)
        traits.append("cold room")
    hot_end = replace(
        HOT_END,
        watts=random.uniform(38.0, 50.0),
        capacity=random.uniform(10.0, 17.0),
        loss=random.uniform(0.07, 0.09),
        fan_loss=random.uniform(0.03, 0.05),
        lag=random.uniform(1.5, 4.0),
        dead_steps=random.randint(1, 3),
        noise=random.uniform(0.03, 0.25),
    )
    body = replace(
        BED,
        watts=random.uniform(180.0, 260.0),
        capacity=random.uniform(500.0, 850.0),
        noise=random.uniform(0.02, 0.12),
    )
    if random.random() < 0.1:
        body = replace(body, watts=body.loss * (heats[1] - ambient) * 1.35, capacity=900.0)
        traits.append("slow bed")
    tuned = random.uniform(0.7, 1.2)
    gains = replace(GAINS, proportional=GAINS.proportional * tuned, integral=GAINS.integral * tuned)
    family = random.choice(("A", "A", "A'", "B"))
    files = _files(random, heats)
    options = Options(
        family=family,
        files=files,
        ambient=round(ambient, 1),
        hot_end=hot_end,
        bed=body,
        gains=gains,
        bed_switched=random.random() < 0.2,
        guards=random.random() < 0.85,
        action_words=random.choice((None, None, True, False)),
        mute_card=random.random() < 0.05,
        homing=random.uniform(12.0, 40.0),
        probing=random.uniform(30.0, 90.0),
        material=float(heats[0]),
    )
    every = random.choice((2.0, 2.0, 2.0, 3.0, 5.0))
    pace = Pace(temperature=every, progress=every, report=round(every))
    traits += ["mute card"] if options.mute_card else []
    traits += ["switched bed"] if options.bed_switched else []
    traits += [] if options.guards else ["no guards"]
    return Drawn(seed, options, pace, random.random() < 0.4, material, heats, tuple(traits))


def _files(random: Random, heats: tuple[int, int]) -> tuple[tuple[str, bytes], ...]:
    """The card's files: their lengths in layers, so in minutes, are drawn too."""

    def job(
        layers: tuple[int, int],
        *,
        change: bool = False,
        dwell: float = 0.0,
        pieces: int = 1,
        told: bool = False,
        tail: bool = True,
    ) -> bytes:
        count = random.randint(*layers)
        return make_job(
            layers=count,
            width=random.uniform(26.0, 46.0),
            depth=random.uniform(18.0, 28.0),
            spacing=random.uniform(1.6, 2.6),
            speed=random.choice((1800, 2400, 3000)),
            nozzle=heats[0],
            bed=heats[1],
            probe=random.random() < 0.4,
            change_at=count // 2 if change else None,
            dwell=dwell,
            pieces=pieces,
            trailing=random.choice((0, 8_000, 32_000)) if tail else 0,
            seconds=count * 25 + 300 if told else None,
        )

    return (
        (SHORT, job((16, 24), tail=False)),
        (LONG_NAME, job((30, 80), told=True)),
        ("block-sheave.gcode", job((20, 60))),
        (PLATE, job((40, 100), told=random.random() < 0.5)),
        (DWELLING, job((15, 30), dwell=random.uniform(60.0, 240.0))),
        (CHANGING, job((16, 30), change=True)),
        (SEGMENTS, job((10, 20), pieces=6)),
    )


def lesson(machine: Drawn, fault: str, *, in_job: bool) -> str:
    """A script in which `fault` strikes: somewhere in a short job (a longer one where it is streamed), or on the idle
    machine."""
    random = Random(f"lesson {machine.seed} {fault}")
    start = random.uniform(20.0, 60.0)
    if not in_job:
        return f"at {start:.0f} s fault {fault}"
    share = random.uniform(25.0, 60.0)
    began = begun(machine, start, SHORT if machine.streaming is None else PLATE)
    return "\n".join([*began, f"at {share if machine.streaming is None else share / 3:.0f} % of the job fault {fault}"])


def begun(machine: Drawn, at: float, name: str) -> list[str]:
    """Lines of a script: somebody starts a job, at the panel or at the computer."""
    if machine.streaming is not None:
        return [f"at {at:.0f} s stream {name}"]
    return [f"at {at:.0f} s choose {name}", f"at {at + 4:.0f} s start"]


def healthy_day(machine: Drawn, duration: float) -> str:
    """Lessons in which people do nothing wrong: jobs, loads that are cooled in time, short holds, beds left warm, pauses.

    Each job gets more time than it needs; a hold that comes after its end finds nothing to hold.
    """
    random = Random(f"day {machine.seed}")
    names = [name for name, _ in machine.options.files]
    lines: list[str] = []
    at = random.uniform(30.0, 600.0)
    while at < duration - 900:
        kind = random.random()
        if kind < 0.15:  # a load that is cooled in time
            lines += [f"at {at:.0f} s load", f"at {at + random.uniform(100, 240):.0f} s cool"]
            at += 360.0
        elif kind < 0.22:  # somebody warms up, and starts some minutes later
            lines.append(f"at {at:.0f} s preheat {machine.heats[0]} {machine.heats[1]}")
            at = _job(lines, machine, random, at + random.uniform(60, 200), random.choice(names))
        elif kind < 0.27:  # a bed left warm
            lines += [f"at {at:.0f} s preheat 0 {machine.heats[1]}", f"at {at + 900:.0f} s cool"]
            at += 960.0
        elif kind < 0.32 and machine.streaming is None:  # the converter at the port restarts
            lines.append(f"at {at:.0f} s fault port-reset")
            at += 60.0
        else:
            at = _job(lines, machine, random, at, random.choice(names))
        at += random.choice((0.0, random.uniform(30, 300), random.uniform(300, 1800)))
    return "\n".join(lines)


def _job(lines: list[str], machine: Drawn, random: Random, at: float, name: str) -> float:
    """A job from `at` on, and when it is surely over; the button is pressed every minute where filament is changed."""
    lines += begun(machine, at, name)
    room = 3000.0 if name not in (CHANGING, SEGMENTS, SHORT) else 2200.0
    if name == CHANGING:  # the tutor stands by
        lines += [f"at {at + 60 * minute:.0f} s confirm" for minute in range(2, 40)]
    elif name == SHORT and random.random() < 0.5:  # the next one at once; the panel ignores who presses in a job
        for again in range(300, 2000, 15):
            lines += begun(machine, at + again, SHORT)
        room += 1800.0
    elif random.random() < 0.2:
        held = at + random.uniform(400.0, 900.0)
        hold, on = ("pause", "resume") if machine.streaming is None else ("stream-hold", "stream-on")
        lines += [f"at {held:.0f} s {hold}", f"at {held + random.uniform(15, 80):.0f} s {on}"]
    elif random.random() < 0.15:
        lines += [f"at {at + 200:.0f} s speed 60", f"at {at + room:.0f} s speed 100"]
    elif random.random() < 0.05:
        lines.append(f"at {at + 150:.0f} s {'stop' if machine.streaming is None else 'stream-stop'}")
    return at + room
