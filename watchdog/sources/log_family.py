"""The files that a log has been, is, and will be: rotation renames it, copies it away, or begins the next by name."""

import gzip
import hashlib
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, NamedTuple, cast

HEAD = 1024
TAIL = 256
"""bytes at either end of what was read by which a file is known again"""
_MOST_KIN = 200  # files looked at; a folder of thousands is no log folder


@dataclass(frozen=True, slots=True)
class LogPlace:
    """How far a log has been read: kept over a restart, so that no line is heard twice and none is lost."""

    device: int
    inode: int
    offset: int
    """bytes, to the end of the last whole line; uncompressed"""
    head: str
    """hash of the first bytes, at most `HEAD` and not beyond `offset`"""
    tail: str
    """hash of the last bytes before `offset`, at most `TAIL`"""


NOTHING_YET = LogPlace(0, 0, 0, "", "")
"""There was no log when it was last looked for: whatever comes is new."""


class Part(NamedTuple):
    """A file, and from where on it is to be read."""

    path: Path
    offset: int


def fingerprint(raw: bytes) -> str:
    """A short hash to know bytes again by."""
    return hashlib.blake2b(raw, digest_size=8).hexdigest()


def open_log(path: Path) -> BinaryIO:
    """Open a file of the family to read, also a compressed one. OSError."""
    return cast(BinaryIO, gzip.open(path, "rb")) if path.suffix == ".gz" else path.open("rb", buffering=0)


class LogFamily:
    """The log at `path` and its turned-away files. A name with `*` or `?` is a series: the live file is the last by name."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._series = any(sign in path.name for sign in "*?[")
        name, stem, suffix = (re.escape(part) for part in (path.name, path.stem, path.suffix))
        self._turned = re.compile(  # traffic.log.1  traffic.log-20260302.gz  traffic-2026-03-02.log
            rf"(?:{name}[.\-_]\d[\d.\-_TZ:]*|{stem}[.\-_](?=(?:\D?\d){{6}})\d[\d.\-_TZ:]*{suffix})(?:\.gz)?"
        )

    def live(self) -> Path | None:
        """The file that is being written; None when there is none."""
        if self._series:
            return max(self.path.parent.glob(self.path.name), key=lambda path: path.name, default=None)
        return self.path if self.path.exists() else None

    def between(self, finished: Path, modified: int) -> list[Path]:
        """Files that were begun and turned away after `finished` (last modified at `modified`, ns), oldest first."""
        live = self.live()
        if self._series:
            names = sorted(self.path.parent.glob(self.path.name), key=lambda path: path.name)
            return [path for path in names if path.name > finished.name and path != live]
        later = []
        for path in self._siblings():
            if self._turned.fullmatch(path.name) and path != live and path != finished:
                found = _stat(path)
                if found is not None and found.st_mtime_ns > modified and found.st_ino != _inode(finished):
                    later.append((found.st_mtime_ns, path))
        return [path for _, path in sorted(later)]

    def locate(self, place: LogPlace) -> list[Part] | None:
        """What is still to be read after `place`, in order; None when the file that it speaks of cannot be found."""
        kin = self._kin()
        same = [path for path in kin if _identity(path) == (place.device, place.inode)]
        others = [path for path in kin if path not in same] if place.offset else []
        for path in (*same, *others):
            if _holds(path, place):
                break
        else:
            return None
        live = self.live()
        if path == live:
            return [Part(path, place.offset)]
        found = _stat(path)
        between = self.between(path, found.st_mtime_ns if found else 0)
        after = [*between, live] if live is not None else between
        return [Part(path, place.offset), *(Part(later, 0) for later in after)]

    def _kin(self) -> list[Path]:
        """Every file that may once have been the log: the live one first, then the newest."""
        live = self.live()
        if self._series:
            rest = sorted(self.path.parent.glob(self.path.name), key=lambda path: path.name, reverse=True)
        else:
            rest = [path for path in self._siblings() if path.name.startswith(self.path.stem)]
            rest.sort(key=lambda path: found.st_mtime_ns if (found := _stat(path)) else 0, reverse=True)
        return ([live] if live is not None else []) + [path for path in rest if path != live][:_MOST_KIN]

    def _siblings(self) -> list[Path]:
        try:
            return [path for path in self.path.parent.iterdir() if path.is_file()]
        except OSError:
            return []


def _holds(path: Path, place: LogPlace) -> bool:
    """The file at `path` begins with what was read up to `place`."""
    if place.offset == 0:
        return True
    try:
        with open_log(path) as file:
            head = file.read(min(HEAD, place.offset))
            file.seek(place.offset - min(TAIL, place.offset))
            tail = file.read(min(TAIL, place.offset))
    except (OSError, EOFError):
        return False
    return fingerprint(head) == place.head and fingerprint(tail) == place.tail


def _stat(path: Path) -> os.stat_result | None:
    try:
        return path.stat()
    except OSError:
        return None


def _inode(path: Path) -> int | None:
    found = _stat(path)
    return None if found is None else found.st_ino


def _identity(path: Path) -> tuple[int, int] | None:
    found = _stat(path)
    return None if found is None else (found.st_dev, found.st_ino)
