"""Temperature reports in every shape that controllers print."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.observations import Acknowledged, Reading, Temperatures
from watchdog.core.traffic import Direction
from watchdog.dialect import read

NOZZLE, BED = Reading(204.87, 205.0), Reading(59.94, 60.0)
HOT, WARM = Reading(204.87, 205.0, 71), Reading(59.94, 60.0, 33)

SHAPES = [
    ("T:204.87 /205.00 B:59.94 /60.00 @:71 B@:33", Temperatures(HOT, WARM)),
    (
        "T:204.87 /205.00 B:59.94 /60.00 T0:204.87 /205.00 T1:31.06 /0.00 @:71 B@:33 @0:71 @1:0",
        Temperatures(HOT, WARM, (("T0", HOT), ("T1", Reading(31.06, 0.0, 0)))),
    ),
    (
        "T:204.87 /205.00 B:59.94 /60.00 C:38.20 /40.00 P:27.31 M:41.50 @:71 B@:33 C@:12",
        Temperatures(
            HOT, WARM, (("C", Reading(38.2, 40.0, 12)), ("P", Reading(27.31, None)), ("M", Reading(41.5, None)))
        ),
    ),
    (
        "T:204.87 /205.00 C:38.20 /40.00 L:21.00 /0.00 @:71 C@:12 C@:3",
        Temperatures(HOT, None, (("C", Reading(38.2, 40.0, 12)), ("L", Reading(21.0, 0.0)))),
    ),
    ("T:204.87 /205.00 (612.4) B:59.94 /60.00 (388.1) @:71 B@:33", Temperatures(HOT, WARM)),
    ("T:188.25 /205.00 B:59.94 /60.00 @:127 B@:33 W:?", Temperatures(Reading(188.25, 205.0, 127), WARM, waiting=True)),
    (
        "T:205.11 /205.00 B:59.94 /60.00 @:68 B@:33 W:7",
        Temperatures(Reading(205.11, 205.0, 68), WARM, waiting=True, settling=7.0),
    ),
    (
        "T:204.9 /205.0 B:59.9 /60.0 T0:204.9 /205.0 @:71 B@:33 P:0.0 A:34.1",
        Temperatures(
            Reading(204.9, 205.0, 71),
            Reading(59.9, 60.0, 33),
            (("T0", Reading(204.9, 205.0)), ("P", Reading(0.0, None)), ("A", Reading(34.1, None))),
        ),
    ),
    ("T:204.9 /205.0 B:59.9 /60.0 @:12W B@:38W", Temperatures(Reading(204.9, 205.0, 12), Reading(59.9, 60.0, 38))),
    ("T:188.3 E:0 W:?", Temperatures(Reading(188.3, None), None, waiting=True)),
    ("T:188.25 E:0 B:51.7", Temperatures(Reading(188.25, None), Reading(51.7, None), waiting=True)),
    (
        "T:204.87 /205 B:59.94 /60 B@:86 @:141",
        Temperatures(Reading(204.87, 205.0, 141), Reading(59.94, 60.0, 86)),
    ),
    (
        "T:204.87 /205 B:59.94 /60 B@:86 @:141 T0:204.87 /205 @0:141 T1:31.06 /0 @1:0",
        Temperatures(
            Reading(204.87, 205.0, 141),
            Reading(59.94, 60.0, 86),
            (("T0", Reading(204.87, 205.0, 141)), ("T1", Reading(31.06, 0.0, 0))),
        ),
    ),
    (
        "T:181.2 /-205 B:59.94 /60 B@:86 @:0",
        Temperatures(Reading(181.2, 0.0, 0), Reading(59.94, 60.0, 86), paused_target=205.0),
    ),
    (
        "T:181.20 /-205 B:59.94 /60 @:0 B@:86",
        Temperatures(Reading(181.2, 0.0, 0), Reading(59.94, 60.0, 86), paused_target=205),
    ),
    (
        "T:-333.00 /205 B:59.94 /60 B@:86 @:0 D0:1 DB:0",
        Temperatures(Reading(-333.0, 205.0, 0), Reading(59.94, 60.0, 86), sensor_flag=1, bed_flag=0),
    ),
    (
        "T:23.10 /0 B:-444.00 /60 B@:0 @:0 DB:2",
        Temperatures(Reading(23.1, 0.0, 0), Reading(-444.0, 60.0, 0), bed_flag=2),
    ),
    (
        "T:204.9 /205.0 T0:204.9 /205.0 T1:31.1 /0.0 B:59.9 /60.0",
        Temperatures(
            Reading(204.9, 205.0), Reading(59.9, 60.0), (("T0", Reading(204.9, 205.0)), ("T1", Reading(31.1, 0.0)))
        ),
    ),
    ("T0:204.9 /205.0 203.8 /205.0 B:59.9 /60.0", Temperatures(Reading(204.9, 205.0), Reading(59.9, 60.0))),
    ("T0:31.1 /0.0 T1:204.9 /0.0", Temperatures(Reading(204.9, 0.0), None, (("T0", Reading(31.1, 0.0)),))),
    ("T:204.75/205.0 B:60.25/60.0", Temperatures(Reading(204.75, 205.0), Reading(60.25, 60.0))),
    ("T:204.75 B:60.25", Temperatures(Reading(204.75, None), Reading(60.25, None))),
    ("T:0", Temperatures(Reading(0.0, None), None)),
    ("T:-15.00 /0.00 B:22.00 /0.00 @:0 B@:0", Temperatures(Reading(-15.0, 0.0, 0), Reading(22.0, 0.0, 0))),
    ("T:2000.0 /205.0 B:59.9 /60.0", Temperatures(Reading(2000.0, 205.0), Reading(59.9, 60.0))),
    ("T:nan /0.0 B:22.0 /0.0 @:0 B@:0", Temperatures(Reading(None, 0.0, 0), Reading(22.0, 0.0, 0))),
    ("B:59.94 /60.00 @:0 B@:33", Temperatures(None, Reading(59.94, 60.0, 33))),
]
ANSWERED_ONLY = [
    ("T:204.9 /205.0 @141 B:59.9 /60.0 @86", Temperatures(Reading(204.9, 205.0, 141), Reading(59.9, 60.0, 86))),
    ("T:-100.0 /0.0 @0", Temperatures(Reading(-100.0, 0.0, 0), None)),
]
WAITING_ONLY = [
    ("T:204.9 /205.0 @141", Temperatures(Reading(204.9, 205.0, 141), None, waiting=True)),
    ("T:inf /205.0 @0", Temperatures(Reading(None, 205.0, 0), None, waiting=True)),
    ("B:51.2 /60.0 @255", Temperatures(None, Reading(51.2, 60.0, 255), waiting=True)),
]


@pytest.mark.parametrize(
    ("line", "heat"), SHAPES + ANSWERED_ONLY, ids=lambda value: value if isinstance(value, str) else ""
)
def test_an_answer_to_the_question_for_temperatures_is_an_acknowledgement_and_a_report(
    line: str, heat: Temperatures
) -> None:
    assert read(Direction.RECEIVED, f"ok {line} ") == (Acknowledged(), heat)


@pytest.mark.parametrize(
    ("line", "heat"), SHAPES + WAITING_ONLY, ids=lambda value: value if isinstance(value, str) else ""
)
def test_a_report_that_comes_by_itself_reads_the_same(line: str, heat: Temperatures) -> None:
    assert read(Direction.RECEIVED, f" {line}") == (heat,)
    assert read(Direction.RECEIVED, f"{line}\r") == (heat,)


@pytest.mark.parametrize(
    "line",
    [
        "Stats: Total time: 41d 7h 2m 11s, Longest job: 19h 0m 4s",
        "TargetExtr0:205",
        "MTEMP:1234 205 71",
        "X:41.25 Y:7.50 Z:0.60 E:128.40 Count X:3300 Y:600 Z:240",
        "X:41.25 Y:7.50 Z:0.60 E:128.40 Count A:3300 B:600 C:240",
        "C:38.20 /40.00",
        "E:0",
        "echo:T:204.9 /205.0",
        "Echo:T:204.9 /205.0",
    ],
)
def test_other_lines_with_colons_are_no_temperatures(line: str) -> None:
    """An axis position taken for a temperature would raise or hide a heat alarm."""
    assert not any(isinstance(told, Temperatures) for told in read(Direction.RECEIVED, line))


@pytest.mark.parametrize(
    "line",
    [
        "T:204.87 /20ok T:204.87 /205.00",  # two lines run together
        "T:204.87 /205.00 T:24.87 /205.00",
        "T:2 04.9 /205.00",
        r"T:2\xff04.87 /205.00 B:59.94 /60.00",
        "T:20\x004.87 /205.00",
        "T:204.87.3 /205.00",
    ],
)
def test_a_report_that_noise_has_touched_gives_no_wrong_number(line: str) -> None:
    """A nozzle that seems to fall by 200 °C at once would raise an urgent alarm over a bad cable."""
    for told in read(Direction.RECEIVED, line):
        if isinstance(told, Temperatures):
            assert told.nozzle in (None, Reading(204.87, 205.0), Reading(204.87, None))


RUBBISH = st.text(st.sampled_from("?~{}#^&$\ufffd\x00\x01\x1béøß%"), min_size=1, max_size=6)


@given(shape=st.sampled_from(SHAPES), front=RUBBISH, glue=st.sampled_from(["", " "]), behind=st.booleans())
def test_rubbish_around_a_report_leaves_each_field_right_or_absent(
    shape: tuple[str, Temperatures], front: str, glue: str, behind: bool
) -> None:
    """Noise at either end may cost a reading, but must never change one."""
    line, whole = shape
    for told in read(Direction.RECEIVED, f"{line}{glue}{front}" if behind else f"{front}{glue}{line}"):
        if not isinstance(told, Temperatures):
            continue
        known = dict(whole.others) | {"nozzle": whole.nozzle, "bed": whole.bed}
        hot_ends = {reading.now for name, reading in known.items() if reading and (name == "nozzle" or name[0] == "T")}
        assert told.nozzle is None or told.nozzle.now in hot_ends
        assert told.bed is None or (whole.bed is not None and told.bed.now == whole.bed.now)
        for reading in (told.nozzle, told.bed):
            assert reading is None or reading.target in {None} | {known.target for known in known.values() if known}


CELSIUS = st.decimals(-400, 999, places=2).map(str)
POWER = st.integers(0, 255)


@given(CELSIUS, st.integers(0, 400), CELSIUS, st.integers(0, 120), POWER, POWER, st.booleans())
def test_whatever_the_numbers_both_orders_of_the_powers_read_alike(
    nozzle: str, target: int, bed: str, bed_target: int, power: int, bed_power: int, bed_first: bool
) -> None:
    powers = [f"@:{power}", f"B@:{bed_power}"]
    line = f"T:{nozzle} /{target} B:{bed} /{bed_target} " + " ".join(powers[::-1] if bed_first else powers)
    assert read(Direction.RECEIVED, line) == (
        Temperatures(Reading(float(nozzle), target, power), Reading(float(bed), bed_target, bed_power)),
    )
