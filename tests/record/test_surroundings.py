"""The ring in memory: what it holds, what it lets go, and what it hands out."""

from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.record.minutes import MOST, Minute, Minutes, Spread
from watchdog.record.surroundings import BEFORE, LONGEST_LINE, MOST_LINES, Surroundings

BASE = 1_772_442_000.0  # at a whole minute


def at(seconds: float) -> Moment:
    return Moment(seconds, BASE + seconds)


def filled(seconds: range, most_lines: int = MOST_LINES) -> Surroundings:
    ring = Surroundings(most_lines)
    for second in seconds:
        ring.line(at(second), Direction.RECEIVED, f"line {second}")
        ring.reading(at(second), 200.0, 205.0, None, None, None)
    return ring


def test_ten_minutes_are_kept_and_no_more() -> None:
    around = filled(range(2_000)).before()
    assert around.lines[0].text == "line 1399"
    assert around.lines[-1].text == "line 1999"
    assert around.readings[0].at == at(1_399)
    assert around.dropped == 0


def test_a_busy_wire_keeps_the_latest_lines_and_counts_the_rest() -> None:
    ring = Surroundings(most_lines=100)
    for nth in range(1_000):
        ring.line(at(nth * 0.1), Direction.SENT, f"N{nth}")
    around = ring.before()
    assert [around.lines[0].text, around.lines[-1].text] == ["N900", "N999"]
    assert around.dropped == 900


def test_lines_dropped_long_ago_are_not_counted_as_missing() -> None:
    """Only what should stand in the ten minutes before an incident is missing from it."""
    ring = Surroundings(most_lines=100)
    for nth in range(1_000):
        ring.line(at(nth * 0.1), Direction.SENT, f"N{nth}")
    for nth in range(50):
        ring.line(at(2_000 + nth), Direction.SENT, f"later {nth}")
    assert ring.before().dropped == 0


def test_a_line_of_noise_is_cut() -> None:
    """A baud mismatch can give a line of a megabyte."""
    ring = Surroundings()
    ring.line(at(0), Direction.RECEIVED, "x" * 1_000_000)
    ring.line(at(0), Direction.RECEIVED, "y" * LONGEST_LINE)
    noise, whole = ring.before().lines
    assert len(noise.text) == LONGEST_LINE
    assert noise.text.endswith("(1000000 characters)")
    assert whole.text == "y" * LONGEST_LINE


def test_what_was_written_is_not_pending_any_more() -> None:
    ring = filled(range(5))
    ring.written(ring.before())
    assert ring.pending().lines == ()
    ring.line(at(6), Direction.RECEIVED, "line 6")
    ring.reading(at(6), 201.0, None, None, None, None)
    assert [line.text for line in ring.pending().lines] == ["line 6"]
    assert [reading.nozzle for reading in ring.pending().readings] == [201.0]
    assert len(ring.before().lines) == 6


def test_what_could_not_be_written_is_handed_out_again() -> None:
    """The disk is full for a minute: the lines of that minute still belong to the incident."""
    ring = filled(range(5))
    assert ring.pending() == ring.pending()
    assert len(ring.pending().lines) == 5


def test_a_wall_clock_that_is_set_does_not_empty_the_ring() -> None:
    ring = filled(range(100))
    ring.line(Moment(100.0, BASE + 86_400), Direction.RECEIVED, "a day later by the wall clock")
    assert len(ring.before().lines) == 101


def test_each_finished_minute_is_summed_up_once() -> None:
    ring = Surroundings()
    for second, nozzle in ((0, 20.0), (30, 22.0), (59, 27.0), (60, None)):
        ring.reading(at(second), nozzle, 205.0, None, 60.0, float(second))
    (minute,) = ring.summaries().minutes
    assert minute == Minute(int(BASE // 60), Spread(20.0, 27.0, 69.0, 3), 205.0, None, 60.0, 59.0)
    assert minute.nozzle is not None
    assert minute.nozzle.mean == 23.0
    ring.written(ring.summaries())
    assert ring.summaries().minutes == ()
    ring.end_minute()
    (last,) = ring.summaries().minutes
    assert last.nozzle is None
    assert last.number == int(BASE // 60) + 1


def test_minutes_that_nobody_takes_are_bounded() -> None:
    minutes = Minutes()
    for nth in range(MOST + 100):
        minutes.add(BASE + 60 * nth, 20.0, None, None, None, None)
    assert len(minutes.finished()) == MOST


@given(st.lists(st.tuples(st.floats(-50, 700), st.floats(0, 1e3)), max_size=200), st.integers(1, 50))
def test_the_ring_is_bounded_whatever_comes(steps: list[tuple[float, float]], most: int) -> None:
    """Clocks that jump and floods of lines: memory must not grow, and nothing raises."""
    ring = Surroundings(most)
    now = 0.0
    for jump, nozzle in steps:
        now += jump
        ring.line(at(now), Direction.RECEIVED, "T:1")
        ring.reading(at(now), nozzle, None, None, None, None)
    around = ring.before()
    assert len(around.lines) <= most
    assert len(around.readings) <= most
    assert around.dropped >= 0
    if steps:
        assert around.lines[-1].at.elapsed == now
        assert around.lines[0].at.elapsed >= now - BEFORE
