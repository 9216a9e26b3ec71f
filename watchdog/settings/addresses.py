"""The addresses of the routes: secrets, read from where they are kept and repeated nowhere."""

import errno
import os
import re
import stat
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Protocol

from pydantic import SecretStr

from watchdog.settings.model import Route, Settings
from watchdog.settings.origin import Written
from watchdog.settings.problems import Problem

_ADDRESS = re.compile(r"[a-z][a-z0-9+.-]*://\S+\Z", re.IGNORECASE)
NOT_HANDED = "no credentials were handed over: systemd hands them to the service alone (CREDENTIALS_DIRECTORY)"


class NoAddress(OSError):
    """An address is not where it should be; the message says why, and holds nothing of it."""


class Kept(Protocol):
    """A secret in exactly one of three places."""

    @property
    def url(self) -> SecretStr | None: ...
    @property
    def url_file(self) -> Path | None: ...
    @property
    def credential(self) -> str | None: ...


def address(route: Route, environment: Mapping[str, str] = os.environ) -> str:
    """The route's address. Raises NoAddress when it is not there, cannot be read or is none."""
    text = secret(route, environment)
    if not text:
        raise NoAddress(errno.EINVAL, "it is empty. Write one address as Apprise takes it")
    if not _ADDRESS.match(text):
        raise NoAddress(errno.EINVAL, "it is no address. Write one as Apprise takes it, on one line: kind://…")
    return text


def secret(told: Kept, environment: Mapping[str, str] = os.environ) -> str:
    """What is kept there, without blanks around it. Raises NoAddress when it is not there or cannot be read."""
    if told.url is not None:
        return told.url.get_secret_value().strip()
    if told.url_file is not None:
        return _content(told.url_file).strip()
    folder = environment.get("CREDENTIALS_DIRECTORY")
    if folder is None:
        raise NoAddress(errno.ENOENT, NOT_HANDED)
    return _content(Path(folder) / str(told.credential)).strip()


def problems(written: Written, settings: Settings, *, handed: bool) -> Iterator[Problem]:
    """Addresses that are missing, or that others on this computer can read.

    `handed`: False passes credentials over that only the service gets from systemd.
    """
    for name, route in settings.routes.items():
        if sum(place is not None for place in (route.url, route.url_file, route.credential)) != 1:
            continue  # told by `relations`
        if route.credential is not None and not handed and "CREDENTIALS_DIRECTORY" not in os.environ:
            continue
        kept = next(kind for kind in ("url", "url_file", "credential") if getattr(route, kind) is not None)
        place = written.place(["routes", name, kept])
        try:
            address(route)
        except NoAddress as none:
            yield Problem(place, f"the address cannot be used: {none.strerror}.")
        if route.url_file is not None and open_to_others(route.url_file):
            yield Problem(place, f"others on this computer can read the address. Do: chmod 600 {route.url_file}")


def open_to_others(file: Path) -> bool:
    """Whether accounts other than the file's owner may read or change it; False when that cannot be told.

    What systemd hands over stands in a folder of the service's own. It may be let in by a list of rights (ACL), whose mask
    then looks like a right of the group.
    """
    folder = os.environ.get("CREDENTIALS_DIRECTORY")
    if folder and file.is_absolute() and file.is_relative_to(folder):
        return False
    try:
        return bool(stat.S_IMODE(file.stat().st_mode) & 0o077)
    except OSError:
        return False


def _content(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8")
    except OSError as error:
        raise NoAddress(error.errno or errno.EIO, f"{file}: {error.strerror or error}") from None
    except UnicodeDecodeError:
        raise NoAddress(errno.EILSEQ, f"{file}: is no text in UTF-8") from None
