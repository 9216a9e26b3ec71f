"""Line layouts: times of every sort, words for directions."""

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.traffic import Direction, TrafficLine
from watchdog.sources.log_layout import BadLayout, Layout, line_reader

NEAR = datetime(2026, 3, 2, 9, 14, 7, tzinfo=UTC).timestamp()
ANY_TIME = r"^\[(?P<time>[^\]]*)\] (?:(?P<direction>\S+) )?(?P<text>.*)$"


def stamp_of(told: str, near: float = NEAR, **layout: Any) -> str | None:
    line = line_reader(Layout(ANY_TIME, **layout))(f"[{told}] < ok", near)
    return None if line is None else datetime.fromtimestamp(line.stamp, UTC).isoformat()


@pytest.mark.parametrize(
    ("time", "layout", "meant"),
    [
        ("2026-03-02T09:14:07.250Z", {}, "2026-03-02T09:14:07.250000+00:00"),
        ("2026-03-02 09:14:07,250", {}, "2026-03-02T09:14:07.250000+00:00"),
        ("2026-07-02 09:14:07", {"zone": "Europe/Lisbon"}, "2026-07-02T08:14:07+00:00"),
        ("2026-07-02T09:14:07+02:00", {"zone": "Europe/Lisbon"}, "2026-07-02T07:14:07+00:00"),
        ("1772442847.25", {"time": "epoch"}, "2026-03-02T09:14:07.250000+00:00"),
        ("1772442847250", {"time": "epoch-ms"}, "2026-03-02T09:14:07.250000+00:00"),
        ("02.03.2026 09:14:07,250", {"time": "%d.%m.%Y %H:%M:%S,%f"}, "2026-03-02T09:14:07.250000+00:00"),
        ("Mar  2 09:14:07", {"time": "%b %d %H:%M:%S"}, "2026-03-02T09:14:07+00:00"),
        ("09:14:07", {"time": "%H:%M:%S"}, "2026-03-02T09:14:07+00:00"),
        ("09:14:07", {"time": "%H:%M:%S", "zone": "America/Halifax"}, "2026-03-02T13:14:07+00:00"),
    ],
)
def test_a_time_is_read_as_its_layout_says(time: str, layout: dict[str, Any], meant: str) -> None:
    assert stamp_of(time, **layout) == meant


@pytest.mark.parametrize(("fold", "meant"), [(0, "2026-10-25T00:30:00+00:00"), (1, "2026-10-25T01:30:00+00:00")])
def test_the_hour_that_comes_twice_is_the_one_that_was_chosen(fold: int, meant: str) -> None:
    assert stamp_of("2026-10-25 01:30:00", zone="Europe/Lisbon", fold=fold) == meant


def test_a_time_without_a_year_keeps_to_the_line_before_it_over_new_year() -> None:
    eve = datetime(2026, 12, 31, 23, 59, 59, tzinfo=UTC).timestamp()
    assert stamp_of("Jan  1 00:00:01", near=eve, time="%b %d %H:%M:%S") == "2027-01-01T00:00:01+00:00"
    leap = datetime(2028, 3, 1, tzinfo=UTC).timestamp()
    assert stamp_of("Feb 29 10:00:00", near=leap, time="%b %d %H:%M:%S") == "2028-02-29T10:00:00+00:00"


def test_a_time_without_a_date_keeps_to_the_line_before_it_over_midnight() -> None:
    late = datetime(2026, 3, 2, 23, 59, 59, tzinfo=UTC).timestamp()
    assert stamp_of("00:00:01", near=late, time="%H:%M:%S") == "2026-03-03T00:00:01+00:00"


@pytest.mark.parametrize("time", ["", "yesterday", "nan", "inf", "-5", "1e300"])
@pytest.mark.parametrize("form", ["iso", "epoch", "epoch-ms", "%H:%M:%S", "%b %d", "%Y"])
def test_what_is_no_time_does_not_parse(time: str, form: str) -> None:
    assert stamp_of(time, time=form) is None


@pytest.mark.parametrize(
    ("word", "direction"),
    [("<", Direction.RECEIVED), ("Recv", Direction.RECEIVED), (">>>", Direction.SENT), ("SEND", Direction.SENT),
     ("!", Direction.REMARK), ("sideways", None)],
)  # fmt: skip
def test_directions_are_told_by_known_words(word: str, direction: Direction | None) -> None:
    line = line_reader(Layout(r"(?P<direction>\S+) (?P<text>.*)"))(f"{word} M105", NEAR)
    assert line == (None if direction is None else TrafficLine(NEAR, direction, "M105"))


def test_without_a_direction_every_line_counts_as_the_machines() -> None:
    assert line_reader(Layout("(?P<text>.*)"))("ok", NEAR) == TrafficLine(NEAR, Direction.RECEIVED, "ok")


@pytest.mark.parametrize(
    ("layout", "told"),
    [
        (Layout("(?P<text>"), "no regular expression"),
        (Layout("(.*)"), r"no group named text: write \(\?P<text>"),
        (Layout("(?P<text>.*)", time="dd.mm.yyyy"), "write iso, epoch, epoch-ms, or a format such as"),
        (Layout("(?P<text>.*)", zone="Lisbon"), "write a name such as Europe/Lisbon"),
        (Layout("(?P<text>.*)", zone="../../etc/passwd"), "write a name such as Europe/Lisbon"),
    ],
)
def test_a_layout_that_cannot_work_says_what_would(layout: Layout, told: str) -> None:
    with pytest.raises(BadLayout, match=told):
        line_reader(layout)


@given(st.text(max_size=80), st.sampled_from(["iso", "epoch", "epoch-ms", "%H:%M:%S", "%b %d %H:%M", "%c"]))
def test_any_text_is_a_line_or_none(text: str, form: str) -> None:
    read = line_reader(Layout(ANY_TIME, time=form, zone="Europe/Lisbon"))
    for line in (read(text, NEAR), read(f"[{text}] ok", NEAR)):
        assert line is None or isinstance(line, TrafficLine)
