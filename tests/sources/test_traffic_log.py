"""Following a log that another program writes, on real files."""

import gzip
import os
import shutil
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from watchdog.clock import Clock
from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction, TrafficLine, write_line
from watchdog.sources.log_family import LogPlace
from watchdog.sources.log_layout import Layout
from watchdog.sources.traffic_log import LogOptions, LogSource

Running = Callable[..., AbstractAsyncContextManager[None]]
NINE = 1_772_442_847.0  # 2026-03-02T09:14:07Z


class Writer:
    """The other program: numbered lines, and the ways in which logs are turned. Each change is a second after the last."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.count = 0
        self.now = int(NINE)
        self.rest = b""

    def line(self) -> bytes:
        self.count += 1
        return write_line(TrafficLine(NINE + self.count, Direction.RECEIVED, f"ok {self.count}")).encode() + b"\n"

    def append(self, raw: bytes) -> None:
        with self.path.open("ab") as file:
            file.write(raw)
        self.touch(self.path)

    def touch(self, path: Path) -> None:
        self.now += 1
        os.utime(path, ns=(self.now * 10**9, self.now * 10**9))

    def lines(self, count: int) -> None:
        self.append(self.rest + b"".join(self.line() for _ in range(count)))
        self.rest = b""

    def half(self) -> None:
        if not self.rest:
            line = self.line()
            self.rest = line[30:]
            self.append(line[:30])

    def shift(self) -> None:
        for number in range(8, 0, -1):
            old = self.path.with_name(f"{self.path.name}.{number}")
            if old.exists():
                old.rename(self.path.with_name(f"{self.path.name}.{number + 1}"))

    def rename(self) -> None:
        if self.path.exists():
            self.shift()
            self.path.rename(self.path.with_name(self.path.name + ".1"))
            self.append(b"")

    def copy_and_truncate(self) -> None:
        if self.path.exists():
            self.shift()
            copy = self.path.with_name(self.path.name + ".1")
            shutil.copy(self.path, copy)
            self.touch(copy)
            os.truncate(self.path, 0)
            self.touch(self.path)

    @property
    def expected(self) -> list[str]:
        whole = self.count - 1 if self.rest else self.count
        return [f"ok {n}" for n in range(1, whole + 1)]


def source_of(path: Path, ear: Any, resume: LogPlace | None = None, **options: Any) -> LogSource:
    return LogSource(LogOptions(path, **{"poll": 0.005, **options}), Clock(), ear, resume, say=lambda sentence: None)


# ---------------------------------------------------------------- every way of growing, at once


class Watch:
    """A log source that is driven by hand, and restarted from its stored place."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.heard: list[str] = []
        self.place: LogPlace | None = None
        self.start()

    def start(self) -> None:
        self.source = source_of(self.path, self.hear, self.place)

    def hear(self, at: Moment, direction: Direction, text: str) -> None:
        if direction is Direction.RECEIVED:
            self.heard.append(text)

    def look(self, times: int = 12) -> None:
        for _ in range(times):
            self.source._tell(self.source._follower.read())
        self.place = self.source.place

    def restart(self) -> None:
        self.source._follower.close()
        self.start()


STEPS = ["lines", "half", "rename", "copy", "restart", "look", "look"]


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(STEPS), max_size=25))
def test_no_line_is_heard_twice_and_none_is_lost_however_the_log_is_turned(steps: list[str]) -> None:
    """A line heard twice would be a second start of a job; a lost one, a fault that nobody hears of."""
    with TemporaryDirectory() as folder:
        writer = Writer(Path(folder) / "traffic.log")
        watch = Watch(writer.path)
        watch.look(1)  # there is no log yet: all that comes is new
        writer.lines(1)
        watch.look()
        turned = 0
        for step in steps:
            match step:
                case "lines":
                    writer.lines(3)
                case "half":
                    writer.half()
                case "rename" | "copy" if turned < 7:  # more have not been kept
                    turned += 1
                    if watch.source._follower._offset == 0:
                        watch.look()  # a file of which nothing has been read cannot be known again in its copy
                    writer.rename() if step == "rename" else writer.copy_and_truncate()
                case "restart":
                    watch.restart()
                case "look":
                    watch.look()
        writer.lines(1)
        watch.look(60)
        watch.source._follower.close()
        assert watch.heard == writer.expected, steps


# ---------------------------------------------------------------- one thing at a time


async def test_a_log_that_does_not_exist_yet_is_waited_for(tmp_path: Path, ear: Any, running: Running) -> None:
    writer = Writer(tmp_path / "traffic.log")
    source = source_of(writer.path, ear)
    async with running(source.run()):
        await ear.until(lambda: source.trouble is not None)
        assert str(source.trouble).endswith("traffic.log is not there")
        writer.lines(2)
        await ear.until(lambda: len(ear.received) == 2)
        assert source.trouble is None
        writer.path.unlink()
        await ear.until(lambda: not source.is_open)
        writer.lines(1)
        await ear.until(lambda: len(ear.received) == 3)
    assert ear.received == writer.expected
    assert [remark.split(":")[0] for remark in ear.remarks] == [
        "watch started", "link closed", "link opened", "link closed", "link opened", "link closed", "watch stopped",
    ]  # fmt: skip


def test_a_log_that_came_while_the_watch_was_off_is_read_from_its_start(tmp_path: Path) -> None:
    writer = Writer(tmp_path / "traffic.log")
    watch = Watch(writer.path)
    watch.look()
    writer.lines(3)
    watch.restart()
    watch.look()
    watch.source._follower.close()
    assert watch.heard == writer.expected


async def test_what_is_in_the_log_before_the_watch_starts_is_not_news(
    tmp_path: Path, ear: Any, running: Running
) -> None:
    """Yesterday's fault must not wake anybody today."""
    writer = Writer(tmp_path / "traffic.log")
    writer.lines(50)
    writer.half()
    source = source_of(writer.path, ear)
    async with running(source.run()):
        await source.caught_up.wait()
        assert ear.received == []
        writer.lines(1)
        await ear.until(lambda: len(ear.received) == 2)
    assert ear.received == ["ok 51", "ok 52"]


async def test_the_last_minutes_are_heard_when_asked_for_and_dated_back(
    tmp_path: Path, ear: Any, running: Running
) -> None:
    clock = Clock(resume_from=Moment(10_000.0, 0.0))
    now = clock.now()
    path = tmp_path / "traffic.log"
    ages = [7000.0, 900.0, 590.0, 300.0, 1.0]
    path.write_text(
        "".join(write_line(TrafficLine(now.stamp - age, Direction.RECEIVED, f"{age:.0f}")) + "\n" for age in ages)
    )
    source = LogSource(LogOptions(path, history=600.0, poll=0.005), clock, ear, say=lambda sentence: None)
    async with running(source.run()):
        await source.caught_up.wait()
    assert ear.received == ["590", "300", "1"]
    dated = [at.elapsed - now.elapsed for at, direction, _ in ear.all if direction is Direction.RECEIVED]
    assert dated == pytest.approx([-590, -300, -1], abs=0.5)
    times = [at.elapsed for at, _, _ in ear.all]
    assert times == sorted(times)


async def test_a_live_line_is_heard_now_whatever_its_clock_says(tmp_path: Path, ear: Any, running: Running) -> None:
    """The other computer's clock may be an hour off; durations are ours."""
    writer = Writer(tmp_path / "traffic.log")
    source = source_of(writer.path, ear)
    clock = source._clock
    async with running(source.run()):
        await source.caught_up.wait()
        before = clock.now().elapsed
        writer.lines(1)
        await ear.until(lambda: len(ear.received) == 1)
        (at,) = [at for at, direction, _ in ear.all if direction is Direction.RECEIVED]
        assert before <= at.elapsed <= clock.now().elapsed
        assert at.stamp == NINE + 1


async def test_turned_twice_while_the_watch_was_off_nothing_is_missing(
    tmp_path: Path, ear: Any, running: Running
) -> None:
    writer = Writer(tmp_path / "traffic.log")
    first = source_of(writer.path, ear)
    async with running(first.run()):
        await first.caught_up.wait()
        writer.lines(5)
        await ear.until(lambda: len(ear.received) == 5)
    writer.lines(5)
    writer.rename()
    writer.lines(5)
    writer.rename()
    writer.lines(5)
    second = source_of(writer.path, ear, first.place)
    async with running(second.run()):
        await second.caught_up.wait()
    assert ear.received == writer.expected
    assert second._follower.place_lost is False


async def test_the_part_that_was_compressed_meanwhile_is_finished(tmp_path: Path, ear: Any, running: Running) -> None:
    writer = Writer(tmp_path / "traffic.log")
    first = source_of(writer.path, ear)
    async with running(first.run()):
        await first.caught_up.wait()
        writer.lines(5)
        await ear.until(lambda: len(ear.received) == 5)
    writer.lines(5)
    writer.rename()
    old = tmp_path / "traffic.log.1"
    (tmp_path / "traffic.log.1.gz").write_bytes(gzip.compress(old.read_bytes()))
    shutil.copystat(old, tmp_path / "traffic.log.1.gz")
    old.unlink()
    writer.lines(5)
    second = source_of(writer.path, ear, first.place)
    async with running(second.run()):
        await second.caught_up.wait()
    assert ear.received == writer.expected


async def test_a_place_that_is_gone_for_good_is_said_and_reading_begins_anew(
    tmp_path: Path, ear: Any, running: Running
) -> None:
    sentences: list[str] = []
    path = tmp_path / "traffic.log"
    Writer(path).lines(3)
    place = LogPlace(1, 2, 500, "0" * 16, "0" * 16)
    source = LogSource(LogOptions(path, poll=0.005), Clock(), ear, place, say=sentences.append)
    async with running(source.run()):
        await ear.until(lambda: len(ear.received) == 3)
    assert [sentence for sentence in sentences if "lines may be missing" in sentence]


async def test_a_series_of_recordings_is_followed_from_file_to_file(tmp_path: Path, ear: Any, running: Running) -> None:
    """Our own recorder begins files by name instead of renaming them."""
    first, second = (
        Writer(tmp_path / "loft-1-2026-03-02T091407Z.traffic"),
        Writer(tmp_path / "loft-1-2026-03-02T101407Z.traffic"),
    )
    source = source_of(tmp_path / "loft-1-*.traffic", ear)
    async with running(source.run()):
        await source.caught_up.wait()
        first.lines(2)
        await ear.until(lambda: len(ear.received) == 2)
        first.lines(1)
        second.lines(2)
        await ear.until(lambda: len(ear.received) == 5)
    assert ear.received == ["ok 1", "ok 2", "ok 3", "ok 1", "ok 2"]


def test_damaged_and_foreign_lines_are_counted_and_the_rest_is_read(tmp_path: Path) -> None:
    path = tmp_path / "traffic.log"
    watch = Watch(path)
    watch.look(1)
    good = [write_line(TrafficLine(NINE + n, Direction.RECEIVED, f"ok {n}")).encode() for n in range(6)]
    path.write_bytes(
        b"\xef\xbb\xbf" + good[0] + b"\r\n" + b"\0" * 4096 + good[1] + b"\n" + b"\xff\xfe\xfd\n" + good[2] + b" 20 \xb0C\n"
        + b"y" * 1_000_000 + b"\n" + b"\0" * 70_000 + b"\n" + good[3] + b"\n" + good[1].replace(b"ok", b"back") + b"\n"
    )  # fmt: skip
    watch.look(40)
    assert watch.heard == ["ok 0", "ok 1", "ok 2 20 \\xb0C", "ok 3", "back 1"]
    assert watch.source.unparsed == 4  # bad bytes, the endless line, two lines of NULs
    assert watch.source.stepped_back == 1
    watch.source._follower.close()


def test_a_log_that_may_not_be_read_is_a_sentence_and_no_end(tmp_path: Path) -> None:
    (tmp_path / "traffic.log").mkdir()
    watch = Watch(tmp_path / "traffic.log")
    with pytest.raises(IsADirectoryError):
        watch.look(1)


async def test_what_cannot_be_read_now_is_tried_again(tmp_path: Path, ear: Any, running: Running) -> None:
    path = tmp_path / "traffic.log"
    path.mkdir()
    source = source_of(path, ear)
    async with running(source.run()):
        await ear.until(lambda: source.trouble is not None)
        assert "cannot be read: Is a directory" in str(source.trouble)
        path.rmdir()
        Writer(path).lines(1)
        await ear.until(lambda: source.is_open)


async def test_an_error_of_the_listener_ends_the_source(tmp_path: Path) -> None:
    def hear(at: Moment, direction: Direction, text: str) -> None:
        if direction is Direction.RECEIVED:
            raise RuntimeError("the core is broken")

    writer = Writer(tmp_path / "traffic.log")
    writer.lines(1)
    source = source_of(writer.path, hear, history=1e9)
    with pytest.raises(RuntimeError, match="the core is broken"):
        await source.run()


async def test_a_foreign_layout_is_followed(tmp_path: Path, ear: Any, running: Running) -> None:
    path = tmp_path / "laptop.log"
    layout = Layout(r"^(?P<time>\d+\.\d+) (?P<direction>Send|Recv): (?P<text>.*)$", time="epoch")
    source = source_of(path, ear, layout=layout)
    async with running(source.run()):
        await source.caught_up.wait()
        path.write_text("1772442847.5 Send: N17 M105*17\n1772442847.9 Recv: ok T:20.1 /0.0\nnot ours\n")
        await ear.until(lambda: source.unparsed == 1)
    assert [(at.stamp, direction, text) for at, direction, text in ear.all if direction is not Direction.REMARK] == [
        (NINE + 0.5, Direction.SENT, "N17 M105*17"),
        (pytest.approx(NINE + 0.9), Direction.RECEIVED, "ok T:20.1 /0.0"),
    ]
