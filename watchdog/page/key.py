"""The key of the links: 32 random bytes in a file of the state folder that only the service's account can read.

The file holds the key in use, and behind it, once it was renewed, the one before. A link carries no number of its key: both
are tried. So after `renewed` the links that are under way still hold until they expire, and those of the key before that do
not. Removing the file voids every link at once; the next start makes another.
"""

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

from watchdog.page.links import Key

NAME = "page.key"
SIZE = 32  # bytes: as long as the output of SHA-256, the least that RFC 2104 section 3 advises


class NoKey(OSError):
    """The key cannot be read or made. The message names the file, the fault and the remedy, and holds nothing of the key."""


def kept(folder: Path) -> Key:
    """The key in `folder`, made when there is none. Raises NoKey."""
    file = folder / NAME
    try:
        return _read(file)
    except FileNotFoundError:
        return _written(file, Key(secrets.token_bytes(SIZE)))


def renewed(folder: Path) -> Key:
    """A new key; links signed with the one before hold until they expire. Raises NoKey."""
    return _written(folder / NAME, Key(secrets.token_bytes(SIZE), kept(folder).now))


def _read(file: Path) -> Key:
    """Raises FileNotFoundError when there is none, NoKey when it cannot be used."""
    try:
        # a named pipe in its place must not hold the start up, nor a link lead elsewhere
        handle = os.open(file, os.O_RDONLY | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK)
    except FileNotFoundError:
        raise
    except OSError as error:
        remedy = "It must be a plain file that the account of the watch can read."
        raise NoKey(f"{file}: the key of the links cannot be read: {error.strerror}. {remedy}") from None
    try:
        mode = os.fstat(handle).st_mode
        if not stat.S_ISREG(mode):
            raise NoKey(f"{file}: is no plain file. Remove it; the next start makes another key.")
        if stat.S_IMODE(mode) & 0o077:
            remedy = f"They could make links. Remove it, and the next start makes another; or: chmod 600 {file}"
            raise NoKey(f"{file}: others on this computer can read the key of the links. {remedy}")
        content = os.read(handle, 2 * SIZE + 1)
    except OSError as error:
        if isinstance(error, NoKey):
            raise
        raise NoKey(f"{file}: the key of the links cannot be read: {error.strerror}.") from None
    finally:
        os.close(handle)
    if len(content) not in (SIZE, 2 * SIZE):
        remedy = "Remove it; the next start makes another, and links sent before are refused."
        raise NoKey(f"{file}: is damaged: it holds neither one key nor two. {remedy}")
    return Key(content[:SIZE], content[SIZE:] or None)


def _written(file: Path, key: Key) -> Key:
    """Whole or not at all: written beside it, then put in its place."""
    beside = file.with_name(f"{file.name}.new")
    try:
        with suppress(FileNotFoundError):
            beside.unlink()  # of a start that was cut off
        handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)
        with os.fdopen(handle, "wb") as new:
            new.write(key.now + (key.before or b""))
            new.flush()
            os.fsync(new.fileno())
        beside.replace(file)
        folder = os.open(file.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        remedy = f"Let the account of the watch write into {file.parent}, and see that its disk is not full."
        raise NoKey(f"{file}: the key of the links cannot be written: {error.strerror}. {remedy}") from None
    return key
