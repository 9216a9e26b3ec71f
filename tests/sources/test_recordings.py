"""Recordings: written by the recorder, read under their own clock."""

import gzip
import os
import threading
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.sources.log_layout import Layout
from watchdog.sources.recorder import Recorder, RecorderOptions
from watchdog.sources.recording import read_recording
from watchdog.sources.sidecar import BadSidecar, Sidecar, read_sidecar

NINE = 1_772_442_847.0  # 2026-03-02T09:14:07Z
OURS = """\
2026-03-02T09:14:07.412Z < ok T:24.1 /0.0 B:23.0 /0.0 @:0 B@:0
2026-03-02T09:14:09.412Z > M105
2026-03-02T09:14:09.500Z ! link closed
"""


def recordings(folder: Path) -> list[Path]:
    return sorted(folder.glob("*.traffic"))


def read_all(folder: Path) -> list[tuple[float, Direction, str]]:
    return [(at.stamp, direction, text) for path in recordings(folder) for at, direction, text in read_recording(path)]


def wait_for(happened: Any) -> None:
    for _ in range(2000):
        if happened():
            return
        threading.Event().wait(0.01)
    raise AssertionError("it did not come")


# ---------------------------------------------------------------- reading


def test_a_recording_runs_under_its_own_clock(tmp_path: Path) -> None:
    path = tmp_path / "lesson.traffic"
    path.write_text(OURS)
    recording = read_recording(path)
    heard = list(recording)
    assert [(round(at.elapsed, 3), direction, text) for at, direction, text in heard] == [
        (0.0, Direction.RECEIVED, "ok T:24.1 /0.0 B:23.0 /0.0 @:0 B@:0"),
        (2.0, Direction.SENT, "M105"),
        (2.088, Direction.REMARK, "link closed"),
    ]
    assert heard[0][0].stamp == NINE + 0.412
    assert (recording.lines, recording.unparsed, recording.stepped_back) == (3, 0, 0)
    assert recording.seconds == pytest.approx(2.088)


def test_a_compressed_recording_reads_the_same(tmp_path: Path) -> None:
    plain, packed = tmp_path / "lesson.traffic", tmp_path / "lesson.traffic.gz"
    plain.write_text(OURS)
    packed.write_bytes(gzip.compress(OURS.encode()))
    assert list(read_recording(packed)) == list(read_recording(plain))


def test_a_cut_off_compressed_recording_gives_what_it_has_and_says_so(tmp_path: Path) -> None:
    path = tmp_path / "lesson.traffic.gz"
    whole = gzip.compress(
        b"".join(
            OURS.encode() + b"2026-03-02T09:15:%02d.000Z < %s\n" % (n % 60, os.urandom(40).hex().encode())
            for n in range(2000)
        )
    )
    path.write_bytes(whole[: len(whole) // 2])
    recording = read_recording(path)
    assert len(list(recording)) > 100
    assert "damaged or cut off" in str(recording.damage)


def test_what_does_not_parse_is_counted_and_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "lesson.traffic"
    path.write_bytes(
        b"\xef\xbb\xbf" + OURS.replace("\n", "\r\n").encode() + b"nonsense\n\n" + b"\0" * 900 + b"\n" + b"x" * 1_000_000
        + b"\n2026-13-02T09:14:09.500Z < no such month\n2026-03-02T09:14:10.000Z < T:20\xb0C"
    )  # fmt: skip
    recording = read_recording(path)
    texts = [text for _, _, text in recording]
    assert texts == ["ok T:24.1 /0.0 B:23.0 /0.0 @:0 B@:0", "M105", "link closed", "T:20\\xb0C"]
    assert recording.unparsed == 4


def test_a_clock_that_was_set_back_stands_still_for_one_line_only(tmp_path: Path) -> None:
    """Were it to stand still until the old time is reached, an hour of hot nozzle would not count."""
    path = tmp_path / "lesson.traffic"
    times = ["09:14:07.000", "09:14:10.000", "09:14:09.500", "09:14:12.000", "08:14:12.000", "08:14:14.000"]
    path.write_text("".join(f"2026-03-02T{time}Z < wait\n" for time in times))
    recording = read_recording(path)
    heard = list(recording)
    assert [at.elapsed for at, _, _ in heard] == [0.0, 3.0, 3.0, 5.0, 5.0, 7.0]
    assert recording.stepped_back == 1
    assert heard[-1][0].stamp == NINE - 3593.0, "stamps stay as told"


@given(st.lists(st.floats(0, 4e9), min_size=1, max_size=30))
def test_elapsed_never_steps_back_whatever_the_stamps_say(stamps: list[float]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "x.log"
        path.write_text("".join(f"{stamp!r} wait\n" for stamp in stamps))
        heard = [at.elapsed for at, _, _ in read_recording(path, Layout(r"(?P<time>\S+) (?P<text>.*)", "epoch"))]
    assert len(heard) == len(stamps)
    assert heard == sorted(heard)
    assert heard[0] == 0.0


@given(st.binary(max_size=2000))
def test_any_bytes_are_a_recording_or_counted(raw: bytes) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "any.traffic"
        path.write_bytes(raw)
        recording = read_recording(path)
        assert len(list(recording)) == recording.lines


# ---------------------------------------------------------------- what stands beside it


def test_a_sidecar_tells_what_is_known_of_a_recording(tmp_path: Path) -> None:
    recording = tmp_path / "lesson.traffic.gz"
    assert read_sidecar(recording) is None
    (tmp_path / "lesson.toml").write_text(
        'controller = "family A"\ntaken = 2026-03-02\nhow = "tap"\nodd = "no target"\n[settings]\nmaterial = "pla"\n'
    )
    assert read_sidecar(recording) == Sidecar("family A", date(2026, 3, 2), "tap", ("no target",), {"material": "pla"})


def test_every_fault_of_a_sidecar_is_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "x.toml").write_text('controler = "A"\ntaken = "yesterday"\nodd = 3\nhow = 4\nsettings = 5\n')
    with pytest.raises(BadSidecar) as caught:
        read_sidecar(tmp_path / "x.traffic")
    told = str(caught.value).splitlines()
    assert len(told) == 5
    assert "controler: no such entry. Did you mean controller?" in told[0]
    assert any("'yesterday' is no date. Write it as 2026-03-02" in fault for fault in told)
    (tmp_path / "x.toml").write_text("controller =")
    with pytest.raises(BadSidecar, match=r"x\.toml: "):
        read_sidecar(tmp_path / "x.traffic")


# ---------------------------------------------------------------- writing


def test_a_recording_is_named_by_machine_and_first_line(tmp_path: Path) -> None:
    recorder = Recorder(tmp_path / "new" / "folder", "doorway-1")
    recorder.start()
    recorder.hear(Moment(0.0, NINE), Direction.REMARK, "watch started")
    recorder.hear(Moment(1.0, NINE + 1), Direction.RECEIVED, "start")
    assert recorder.stop()
    (path,) = recordings(tmp_path / "new" / "folder")
    assert path.name == "doorway-1-2026-03-02T091407Z.traffic"
    assert path.read_text() == "2026-03-02T09:14:07.000Z ! watch started\n2026-03-02T09:14:08.000Z < start\n"
    assert (recorder.written, recorder.dropped, recorder.trouble) == (2, 0, None)


heard_lines = st.lists(
    st.tuples(
        st.floats(0, 500).map(lambda later: round(NINE + later, 3)),
        st.sampled_from(Direction),
        st.text(st.characters(blacklist_categories=["Cs"], blacklist_characters="\r\n\0"), max_size=40),
    ),
    max_size=40,
)


@settings(max_examples=40, deadline=None)
@given(heard_lines, st.integers(1, 400))
def test_what_was_recorded_is_what_is_read(lines: list[tuple[float, Direction, str]], file_bytes: int) -> None:
    with TemporaryDirectory() as folder:
        recorder = Recorder(Path(folder), "loft-1", RecorderOptions(file_bytes, 1000, 1000))
        recorder.start()
        for stamp, direction, text in lines:
            recorder.hear(Moment(0.0, stamp), direction, text)
        assert recorder.stop()
        assert sorted(read_all(Path(folder))) == sorted(lines)
        for path in recordings(Path(folder)):
            recording = read_recording(path)
            list(recording)
            assert (recording.unparsed, recording.stepped_back) == (0, 0)


def test_files_are_turned_when_full_and_the_oldest_are_removed(tmp_path: Path) -> None:
    """A forgotten recorder must not fill the disk of the small computer."""
    (tmp_path / "doorway-10-2026-03-02T091407Z.traffic").write_text("another machine's\n")
    recorder = Recorder(tmp_path, "doorway-1", RecorderOptions(file_bytes=1000, files_kept=3))
    recorder.start()
    for n in range(400):
        recorder.hear(Moment(float(n), NINE + n), Direction.RECEIVED, f"ok {n}")
    assert recorder.stop()
    kept = sorted(tmp_path.glob("doorway-1-*"))
    assert len(kept) == 3
    assert all(path.stat().st_size < 1100 for path in kept)
    last = [text for path in kept for _, _, text in read_recording(path)]
    assert last == [f"ok {n}" for n in range(400 - len(last), 400)]
    assert (tmp_path / "doorway-10-2026-03-02T091407Z.traffic").exists()


def test_lines_reach_the_file_while_the_recorder_runs(tmp_path: Path) -> None:
    """A power cut must not cost more than about a second."""
    recorder = Recorder(tmp_path, "doorway-1")
    recorder.start()
    recorder.hear(Moment(0.0, NINE), Direction.RECEIVED, "start")
    wait_for(lambda: recorder.written == 1)
    assert [text for _, _, text in read_all(tmp_path)] == ["start"]
    assert recorder.stop()


def test_a_disk_that_does_not_answer_costs_lines_and_never_a_wait(tmp_path: Path) -> None:
    fifo = tmp_path / "nobody-reads"
    os.mkfifo(fifo)
    sentences: list[str] = []
    recorder = Recorder(
        tmp_path, "doorway-1", RecorderOptions(backlog=100), say=sentences.append,
        opener=lambda path: os.open(fifo, os.O_WRONLY),
    )  # fmt: skip
    recorder.start()
    for n in range(10_000):
        recorder.hear(Moment(float(n), NINE + n), Direction.RECEIVED, "ok")
    assert recorder.dropped >= 10_000 - 100 - 5001
    assert recorder.dropped > 0
    assert "does not keep up" in str(recorder.trouble)
    assert 1 <= len(sentences) < 200
    assert recorder.stop(patience=0.1) is False
    with fifo.open("rb"):  # let the thread go
        wait_for(lambda: not recorder._thread.is_alive())


def test_a_full_disk_is_said_and_recording_goes_on_when_there_is_room(tmp_path: Path) -> None:
    room = threading.Event()
    sentences: list[str] = []

    def opener(path: Path) -> int:
        return os.open(path if room.is_set() else "/dev/full", os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)

    recorder = Recorder(tmp_path, "doorway-1", say=sentences.append, opener=opener)
    recorder.start()
    recorder.hear(Moment(0.0, NINE), Direction.RECEIVED, "start")
    wait_for(lambda: recorder.trouble is not None)
    assert recorder.trouble == "doorway-1: cannot be recorded: No space left on device"
    recorder.hear(Moment(1.0, NINE + 1), Direction.RECEIVED, "ok")
    room.set()
    wait_for(lambda: recorder.written == 2)
    assert recorder.trouble is None
    assert recorder.stop()
    assert [text for _, _, text in read_all(tmp_path)] == ["start", "ok"]
    assert recorder.dropped == 0
    assert sentences[-1].startswith("well again")


def test_with_a_full_disk_the_recorder_still_ends_and_counts_what_is_lost(tmp_path: Path) -> None:
    recorder = Recorder(tmp_path, "doorway-1", opener=lambda path: os.open("/dev/full", os.O_WRONLY))
    recorder.start()
    for n in range(7):
        recorder.hear(Moment(float(n), NINE + n), Direction.RECEIVED, "ok")
    assert recorder.stop(patience=10.0)
    assert (recorder.dropped, recorder.written) == (7, 0)


def test_a_file_that_somebody_removed_is_followed_by_a_new_one(tmp_path: Path) -> None:
    recorder = Recorder(tmp_path, "doorway-1")
    recorder.start()
    recorder.hear(Moment(0.0, NINE), Direction.RECEIVED, "start")
    wait_for(lambda: recorder.written == 1)
    recordings(tmp_path)[0].unlink()
    recorder.hear(Moment(5.0, NINE + 5), Direction.RECEIVED, "ok")
    assert recorder.stop()
    assert [text for _, _, text in read_all(tmp_path)] == ["ok"]


@pytest.mark.parametrize("name", ["", "../x", "a/b", "-x", ".hidden", "with blank"])
def test_a_machine_name_that_is_no_file_name_is_refused(name: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="cannot begin a file name"):
        Recorder(tmp_path, name)
