"""The watching computer's own state: read from the kernel's files, told when it endangers the watch."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.moment import Moment
from watchdog.host.computer import Limits, Memory, judge
from watchdog.host.vitals import Vitals, clock_unsynchronised, look

LISBON = ZoneInfo("Europe/Lisbon")
WELL = Vitals(10**9, 10**9, 4 * 10**9, 0.2, True, False, None, None, False)


def at(elapsed: float) -> Moment:
    return Moment(stamp=1.77e9 + elapsed, elapsed=elapsed)


def tree(root: Path, **files: str) -> Path:
    for name, text in files.items():
        place = root / name.replace("__", "/")
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text)
    return root


def test_this_very_computer_can_be_read(tmp_path: Path) -> None:
    vitals = look(tmp_path)
    assert vitals.disk_free is not None
    assert vitals.disk_free > 0
    assert vitals.memory is not None
    assert vitals.memory_free is not None
    assert 0 < vitals.memory_free < vitals.memory
    assert vitals.load is not None
    assert vitals.load >= 0
    assert clock_unsynchronised() in {True, False, None}


def test_what_the_kernels_files_say_is_read(tmp_path: Path) -> None:
    root = tree(
        tmp_path,
        proc__meminfo="MemTotal:        1000 kB\nMemFree:  1 kB\nMemAvailable:     400 kB\n",
        run__systemd__shutdown__scheduled="USEC=1772474400000000\nWARN_WALL=1\nMODE=reboot\n",
    )
    tree(root / "sys/class/hwmon/hwmon0", in0_lcrit_alarm="0\n")
    tree(root / "sys/class/hwmon/hwmon1", in0_lcrit_alarm="1\n")
    tree(root, **{"run__reboot-required": "*** System restart required ***\n"})
    vitals = look(tmp_path, root, lambda: True)
    assert (vitals.memory_free, vitals.memory) == (400 * 1024, 1000 * 1024)
    assert (vitals.ends_at, vitals.ends_how) == (1772474400.0, "reboot")
    assert (vitals.undervoltage, vitals.restart_wanted, vitals.clock_kept) == (True, True, False)


def test_where_the_kernel_may_not_be_asked_the_time_services_mark_counts(tmp_path: Path) -> None:
    """Under systemd's ProtectClock= the question is refused; only a clock that has been set right leaves the mark."""
    root = tree(tmp_path, run__systemd__timesync__synchronized="")
    assert look(tmp_path, root, lambda: None).clock_kept is True
    assert look(tmp_path, root, lambda: True).clock_kept is False
    assert look(tmp_path, tmp_path / "none", lambda: None).clock_kept is None


SAYS = 'Unattended-Upgrade::Automatic-Reboot "{}";\n'


@pytest.mark.parametrize(
    ("files", "answer"),
    [
        ({"50": "// " + SAYS.format("true")}, None),
        ({"50": SAYS.format("false"), "52": "  " + SAYS.format("True")}, True),
        ({"50": SAYS.format("true"), "52": SAYS.format("false")}, False),
        ({"50": SAYS.replace("Reboot", "Reboot-WithUsers").format("true")}, None),
        ({}, None),
    ],
)
def test_whether_updates_restart_the_computer_is_read_where_its_timers_read_it(
    tmp_path: Path, files: dict[str, str], answer: bool | None
) -> None:
    for name, text in files.items():
        tree(tmp_path, **{f"etc__apt__apt.conf.d__{name}own": text})
    assert look(tmp_path, tmp_path, lambda: None).restarts_itself is answer


@pytest.mark.parametrize(
    ("wanted", "itself", "told"), [(True, True, 1), (True, None, 0), (True, False, 0), (False, True, 0)]
)
def test_an_update_that_restarts_the_computer_by_itself_is_told_before_it_does(
    wanted: bool, itself: bool | None, told: int
) -> None:
    """At night it ends the watch of whatever runs; by day somebody can choose the moment."""
    seen = WELL._replace(restart_wanted=wanted, restarts_itself=itself)
    sentences = judge(Limits(), Memory(), seen, LISBON, at(0))[1]
    assert len([sentence for sentence in sentences if "package timers" in sentence]) == told


def test_a_computer_that_tells_nothing_is_not_called_unwell(tmp_path: Path) -> None:
    vitals = look(tmp_path / "none", tmp_path / "none", lambda: None)
    assert vitals == Vitals()
    assert judge(Limits(), Memory(), vitals, LISBON, at(0))[1] == ()


@given(st.binary(max_size=300))
def test_whatever_stands_in_the_files_nothing_raises(tmp_path_factory: pytest.TempPathFactory, text: bytes) -> None:
    root = tmp_path_factory.mktemp("root")
    for name in ("proc/meminfo", "proc/loadavg", "run/systemd/shutdown/scheduled", "sys/class/hwmon/h/in0_lcrit_alarm"):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_bytes(text)
    vitals = look(root, root, lambda: None)
    assert vitals.undervoltage in {True, False}


@pytest.mark.parametrize(
    ("vitals", "word"),
    [
        (WELL._replace(memory_free=10_000_000), "memory"),
        (WELL._replace(load=9.0), "processor"),
        (WELL._replace(clock_kept=False), "clock"),
    ],
)
def test_what_swings_by_itself_must_last(vitals: Vitals, word: str) -> None:
    """A backup that takes all memory for a minute is no reason to call a teacher."""
    memory, told = judge(Limits(), Memory(), vitals, LISBON, at(0))
    assert told == ()
    memory, told = judge(Limits(), memory, WELL, LISBON, at(200))
    memory, told = judge(Limits(), memory, vitals, LISBON, at(250))
    assert judge(Limits(), memory, vitals, LISBON, at(549))[1] == ()
    (sentence,) = judge(Limits(), memory, vitals, LISBON, at(550))[1]
    assert word in sentence


def test_where_nothing_hangs_on_the_time_of_day_a_free_running_clock_is_no_matter() -> None:
    free = WELL._replace(clock_kept=False)
    memory, _ = judge(Limits(clock_matters=False), Memory(), free, LISBON, at(0))
    assert judge(Limits(clock_matters=False), memory, free, LISBON, at(9999))[1] == ()


def test_a_full_disk_is_told_at_once() -> None:
    (sentence,) = judge(Limits(), Memory(), WELL._replace(disk_free=49_999_999), LISBON, at(0))[1]
    assert sentence.startswith("49 MB are free on the disk.")


def test_a_dip_of_the_supply_is_told_for_an_hour() -> None:
    memory, told = judge(Limits(), Memory(), WELL._replace(undervoltage=True), LISBON, at(0))
    assert len(told) == 1
    memory, told = judge(Limits(), memory, WELL, LISBON, at(3599))
    assert len(told) == 1
    assert judge(Limits(), memory, WELL, LISBON, at(3600))[1] == ()


@pytest.mark.parametrize(
    ("ahead", "how", "words"),
    [
        (3600.0, "reboot", "restart"),
        (3600.0, "poweroff", "be switched off"),
        (43_201.0, "reboot", ""),
        (-61, "reboot", ""),
    ],
)
def test_a_planned_shutdown_is_told_with_its_time(ahead: float, how: str, words: str) -> None:
    """The night's maintenance restart ends a job that is streamed from this computer."""
    planned = WELL._replace(ends_at=at(0).stamp + ahead, ends_how=how)
    told = judge(Limits(), Memory(), planned, LISBON, at(0))[1]
    assert bool(told) == bool(words)
    assert all(words in sentence and "shutdown -c" in sentence for sentence in told)
