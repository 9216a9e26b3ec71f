"""A second watch on the same state directory is refused: two would ruin each other's reading. Real processes, real kills."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from watchdog.host.instance import LOCK_NAME, AnotherInstance, only_instance

HOLDER = """
import sys, pathlib
from watchdog.host.instance import only_instance
with only_instance(pathlib.Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""

Start = Callable[[], "subprocess.Popen[str]"]


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Start]:
    """Starts another process that holds `tmp_path`, and ends it in the end."""
    started: list[subprocess.Popen[str]] = []

    def start() -> "subprocess.Popen[str]":
        process = subprocess.Popen(
            [sys.executable, "-c", HOLDER, str(tmp_path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=Path(__file__).parents[2],
        )
        started.append(process)
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        return process

    yield start
    for process in started:
        process.kill()
        process.communicate()


def test_a_second_watch_is_refused_and_told_which_process_is_in_its_way(tmp_path: Path, other: Start) -> None:
    holder = other()
    with pytest.raises(AnotherInstance) as refused, only_instance(tmp_path):
        pytest.fail("two watches at once")
    assert refused.value.pid == holder.pid
    assert refused.value.directory == tmp_path
    assert f"Process {holder.pid} already keeps its watch here" in str(refused.value)
    assert "systemctl stop emberward" in str(refused.value)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, None], ids=["killed", "terminated", "ended"])
def test_the_place_is_free_however_the_other_watch_ended(
    tmp_path: Path, other: Start, how: signal.Signals | None
) -> None:
    """After a power cut or a kill nobody should have to delete a file before the watch starts again."""
    holder = other()
    if how is not None:
        holder.send_signal(how)
    holder.communicate("")
    with only_instance(tmp_path):
        assert (tmp_path / LOCK_NAME).read_text() == f"{os.getpid()}\n"


def test_a_holder_that_has_not_said_who_it_is_is_another_process(tmp_path: Path, other: Start) -> None:
    other()
    (tmp_path / LOCK_NAME).write_text("")
    with pytest.raises(AnotherInstance, match="Another process already keeps its watch here") as refused:
        only_instance(tmp_path).__enter__()
    assert refused.value.pid is None


def test_one_process_cannot_hold_the_same_place_twice(tmp_path: Path) -> None:
    with only_instance(tmp_path), pytest.raises(AnotherInstance), only_instance(tmp_path):
        pytest.fail("held twice")
    with only_instance(tmp_path):
        pass


def test_the_place_is_freed_when_the_watch_fails(tmp_path: Path) -> None:
    with pytest.raises(RuntimeError), only_instance(tmp_path):
        raise RuntimeError
    with only_instance(tmp_path):
        pass


def test_a_refused_watch_leaves_the_holder_s_number_in_place(tmp_path: Path, other: Start) -> None:
    holder = other()
    for _ in range(2):
        with pytest.raises(AnotherInstance) as refused:
            only_instance(tmp_path).__enter__()
        assert refused.value.pid == holder.pid


def test_a_program_that_the_watch_starts_does_not_hold_the_place(tmp_path: Path) -> None:
    """A mail that hangs in a child must not keep the restarted service out."""
    program = [sys.executable, "-c", "print('here', flush=True); input()"]
    with only_instance(tmp_path):
        child = subprocess.Popen(program, stdin=subprocess.PIPE, stdout=subprocess.PIPE, close_fds=False, text=True)
        assert child.stdout is not None
        assert child.stdout.readline() == "here\n"
    try:
        with only_instance(tmp_path):
            assert child.poll() is None
    finally:
        child.kill()
        child.communicate()


def test_a_directory_that_does_not_exist_is_an_error_of_the_system(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        only_instance(tmp_path / "nowhere").__enter__()


def test_the_lock_file_is_for_its_user_only(tmp_path: Path) -> None:
    with only_instance(tmp_path):
        assert (tmp_path / LOCK_NAME).stat().st_mode & 0o777 == 0o600
