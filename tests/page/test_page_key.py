"""The key of the links: there after every start, the same one, and for nobody else on this computer."""

import os
from pathlib import Path

import pytest

from watchdog.page.key import NAME, NoKey, kept, renewed
from watchdog.page.links import Key


def test_the_first_start_makes_a_key_and_every_later_one_finds_it(tmp_path: Path) -> None:
    """Another key after a restart would void every link that is under way."""
    first = kept(tmp_path)
    assert len(first.now) == 32
    assert first.before is None
    assert kept(tmp_path) == first


def test_two_watches_have_two_keys(tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    assert kept(tmp_path) != kept(tmp_path / "other")


@pytest.mark.parametrize("mask", [0o000, 0o077])
def test_nobody_else_can_read_it_whatever_the_account_s_mask(tmp_path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        kept(tmp_path)
    finally:
        os.umask(before)
    assert (tmp_path / NAME).stat().st_mode & 0o777 == 0o600


def test_a_renewed_key_keeps_the_one_before_and_no_older_one(tmp_path: Path) -> None:
    first = kept(tmp_path)
    second = renewed(tmp_path)
    assert second.before == first.now
    assert second.now != first.now
    assert kept(tmp_path) == second
    third = renewed(tmp_path)
    assert third.before == second.now
    assert first.now not in third
    assert (tmp_path / NAME).stat().st_mode & 0o777 == 0o600


def test_a_key_that_others_can_read_is_refused_with_the_remedy(tmp_path: Path) -> None:
    kept(tmp_path)
    (tmp_path / NAME).chmod(0o640)
    with pytest.raises(NoKey, match=f"{tmp_path / NAME}: others on this computer can read .* chmod 600"):
        kept(tmp_path)


@pytest.mark.parametrize("size", [0, 1, 31, 33, 63, 65, 1000])
def test_a_damaged_file_is_told_and_not_replaced(tmp_path: Path, size: int) -> None:
    """A key that is silently made anew would hide that the disk is failing."""
    (tmp_path / NAME).write_bytes(b"x" * size)
    (tmp_path / NAME).chmod(0o600)
    with pytest.raises(NoKey, match=r"is damaged: .* Remove it"):
        kept(tmp_path)
    assert (tmp_path / NAME).stat().st_size == size


def test_a_file_cut_off_while_it_was_written_does_no_harm(tmp_path: Path) -> None:
    """The power fails in the first start: the half file lies beside, never in its place."""
    (tmp_path / f"{NAME}.new").write_bytes(b"half")
    assert len(kept(tmp_path).now) == 32
    assert not (tmp_path / f"{NAME}.new").exists()


def test_a_folder_in_its_place_is_told(tmp_path: Path) -> None:
    (tmp_path / NAME).mkdir()
    with pytest.raises(NoKey, match="is no plain file"):
        kept(tmp_path)


def test_a_link_in_its_place_is_told(tmp_path: Path) -> None:
    (tmp_path / NAME).symlink_to(tmp_path / "elsewhere")
    with pytest.raises(NoKey, match=r"cannot be read: .* plain file"):
        kept(tmp_path)


def test_a_named_pipe_in_its_place_does_not_hold_the_start_up(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / NAME, 0o600)
    with pytest.raises(NoKey, match="is no plain file"):
        kept(tmp_path)


def test_a_folder_that_is_not_there_is_told_with_the_remedy(tmp_path: Path) -> None:
    with pytest.raises(
        NoKey, match=r"cannot be written: No such file or directory\. Let the account of the watch write"
    ):
        kept(tmp_path / "nowhere")


def test_a_full_disk_is_told_with_the_remedy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NoKey, match="cannot be written: No space left on device"):
        kept(tmp_path)
    assert not (tmp_path / NAME).exists()


def test_no_word_of_a_complaint_holds_the_key(tmp_path: Path) -> None:
    key: Key = kept(tmp_path)
    (tmp_path / NAME).chmod(0o644)
    with pytest.raises(NoKey) as told:
        kept(tmp_path)
    assert key.now.hex() not in str(told.value)
    assert repr(key.now) not in str(told.value)
