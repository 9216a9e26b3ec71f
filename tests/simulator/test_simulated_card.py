"""The byte counter, and the files that run from the card."""

import pytest

from watchdog.simulator.card import READING, Card, contents, short_names
from watchdog.simulator.jobs import SAMPLES, cleat_hook, make_job, thumb_ring
from watchdog.simulator.machine import Options, SimulatedMachine


def running(job: bytes, *, family: str = "A") -> SimulatedMachine:
    machine = SimulatedMachine(Options(family=family, files=(("job.gco", job),)), seed=1)
    machine.advance(2.0)
    machine.panel.choose("job.gco")
    machine.panel.start()
    return machine


def test_the_reader_runs_ahead_of_the_nozzle_by_the_slots_and_the_queue() -> None:
    """16 moves in the queue and 4 orders in the slots: 100 moves of 1 s are 'read' 20 s before they are made."""
    move = b"G1 X10 F600\nG1 X0 F600\n"
    machine = running(b"G90\n" + move * 50)
    machine.advance(32.0)
    byte = machine.card.byte(machine.now)
    moves_read = (byte - 4) / 12
    moves_made = (machine.now - 2.0) / 1.01
    assert 17 <= moves_read - moves_made <= 21


def test_a_full_count_is_not_the_end() -> None:
    """`Done printing file` comes with the last move in A, with the last byte in A'."""
    job = b"G90\n" + b"G1 X10 F600\nG1 X0 F600\n" * 10
    ends = {}
    for family in ("A", "A'"):
        machine = running(job, family=family)
        while b"Done printing" not in machine.take():
            machine.advance(machine.now + 0.1)
        ends[family] = machine.now
    assert ends["A"] - ends["A'"] > 15


def test_before_the_end_family_a_tells_the_full_count() -> None:
    job = b"G90\n" + b"G1 X10 F600\nG1 X0 F600\n" * 6
    machine = running(job)
    machine.advance(10.0)
    machine.take()
    machine.receive(b"M27\n")
    assert f"SD printing byte {len(job)}/{len(job)}".encode() in machine.take()


def test_trailing_comments_pass_at_reading_speed_while_the_last_moves_run() -> None:
    """32 kB of settings at the tail: half the file's bytes in about a second. Bytes are not time."""
    moves = b"G90\n" + b"G1 X50 F600\nG1 X0 F600\n" * 8
    tail = b"".join(b"; setting_%d = 1\n" % nth for nth in range(2000))
    machine = running(moves + tail)
    byte_before = 0
    while (byte := machine.card.byte(machine.now)) < len(moves):
        byte_before = byte
        machine.advance(machine.now + 0.05)
    began = machine.now
    assert byte_before <= len(moves)
    seen = []
    while machine.card.byte(machine.now) < len(moves) + len(tail):
        seen.append(machine.card.byte(machine.now))
        machine.advance(machine.now + 0.05)
    assert machine.now - began == pytest.approx(len(tail) / READING, abs=0.15)
    assert len(set(seen)) > 5
    assert b"Done" not in machine.take()  # the last moves still run


def test_a_heat_wait_holds_the_byte_still() -> None:
    machine = running(b"M109 S200\n" + b"G1 X10 F600\nG1 X0\n" * 200)
    machine.advance(5.0)
    stands = machine.card.byte(machine.now)
    machine.advance(60.0)
    assert machine.card.byte(machine.now) == stands
    machine.advance(120.0)
    assert machine.card.byte(machine.now) > stands


@pytest.mark.parametrize(
    ("name", "minutes"), [("thumb-ring.gcode", 6), ("oar-collar.gcode", 22), ("cleat-hook.gcode", 38)]
)
def test_a_sample_job_lasts_about_as_long_as_it_says(name: str, minutes: float) -> None:
    machine = SimulatedMachine(Options(files=((name, SAMPLES[name]()),)), seed=1)
    machine.advance(2.0)
    machine.panel.choose(name)
    machine.panel.start()
    while b"Done printing" not in machine.take():
        machine.advance(machine.now + 1.0)
        assert machine.now < 3600
    assert machine.now / 60 == pytest.approx(minutes, rel=0.1)
    assert machine.nozzle.target == machine.bed.target == 0
    assert SAMPLES[name]() == SAMPLES[name]()


def test_a_job_can_leave_the_heat_on_at_its_end() -> None:
    machine = running(make_job(layers=1, width=20, depth=10, spacing=5, bed=0, cools=False))
    machine.advance(300.0)
    assert b"Done printing" in machine.take()
    assert machine.nozzle.target == 205


def test_a_job_can_stop_for_another_filament() -> None:
    machine = running(make_job(layers=3, width=20, depth=10, spacing=5, bed=0, change_at=1))
    machine.advance(300.0)
    said = machine.take()
    assert b"echo:Insert filament" in said
    assert b"echo:busy: paused for user" in said
    assert b"Done" not in said
    machine.panel.confirm()
    machine.advance(600.0)
    assert b"Done" in machine.take()


def test_a_long_wait_for_a_person_cools_the_nozzle_but_keeps_the_target() -> None:
    """Family A: after 90 s the output is zero, `T:96.40 /205.00 … @:0`; with the button it warms up again first."""
    machine = running(b"M109 S205\nM155 S2\nM0 look at the hull\nM118 seen\n")
    machine.advance(400.0)
    last = machine.take().decode().splitlines()
    assert "echo:look at the hull" in last
    report = [line for line in last if line.startswith(" T:")][-1]
    assert "/205.00" in report
    assert "@:0 " in report
    assert machine.nozzle.reading < 170
    machine.panel.confirm()
    machine.advance(410.0)
    assert b"seen" not in machine.take()
    machine.advance(520.0)
    assert b"seen" in machine.take()
    assert machine.nozzle.reading == pytest.approx(205, abs=2)


def test_removing_the_cooling_keeps_every_byte_in_its_place() -> None:
    card = Card({"a.gco": thumb_ring()})
    card.choose("a.gco")
    before = contents(card.files["a.gco"])
    card.without_cooling()
    after = contents(card.files["a.gco"])
    assert after.ends == before.ends
    assert after.size == before.size
    changed = [(old.whole, new.whole) for old, new in zip(before.orders, after.orders, strict=True) if old != new]
    assert changed == [("M104 S0", "M117 S0"), ("M140 S0", "M117 S0")]


def test_short_names_follow_the_rule_of_eight_and_three() -> None:
    names = short_names(("cleat hook left.gcode", "cleat hook right.gcode", "RING.GCO", "a.gcode"))
    assert names == {
        "cleat hook left.gcode": "CLEATH~1.GCO",
        "cleat hook right.gcode": "CLEATH~2.GCO",
        "RING.GCO": "RING.GCO",
        "a.gcode": "A~1.GCO",
    }


def test_the_cleat_hook_ends_in_32_kb_of_comments() -> None:
    job = cleat_hook()
    assert len(job) - contents(job).ends[-1] >= 32_000


def test_a_file_that_is_not_there_cannot_be_chosen() -> None:
    machine = SimulatedMachine(Options(files=(("job.gco", b""),)))
    with pytest.raises(KeyError):
        machine.panel.choose("hull.gco")


def test_an_empty_job_is_done_at_once() -> None:
    machine = running(b"")
    machine.advance(5.0)
    assert b"Done printing file" in machine.take()
