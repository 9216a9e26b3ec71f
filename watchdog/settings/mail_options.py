"""The mailbox of the settings as its room's options, and what must hold between its settings."""

import errno
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import parse_qs, unquote, urlsplit

from pydantic import SecretStr

from watchdog.alerts.mail_folder import Options
from watchdog.alerts.routes import Person
from watchdog.settings.addresses import NoAddress, secret
from watchdog.settings.mail_answers import MailAnswersTable
from watchdog.settings.network import NetworkTable
from watchdog.settings.secrets import Fault, exactly_one, unusable

PLACES = ("password", "password_file", "credential")


class _Kept(NamedTuple):
    """The password's place, as `addresses.secret` takes it."""

    url: SecretStr | None
    url_file: Path | None
    credential: str | None


def mailbox_of(told: MailAnswersTable | None, network: NetworkTable) -> Options | None:
    """The mailbox's own options; None: there is none. Raises NoAddress when the password can no longer be read."""
    if told is None:
        return None
    return Options(
        host=told.host,
        user=told.user,
        password=password(told),
        port=told.port or (993 if told.tls == "tls" else 143),
        folder=told.folder,
        tls=told.tls,
        root=told.root_certificate or network.root_certificate,
        every=told.every,
    )


def password(told: MailAnswersTable, environment: Mapping[str, str] = os.environ) -> str:
    """The password. Raises NoAddress when it is not there or cannot be read."""
    text = secret(_Kept(told.password, told.password_file, told.credential), environment)
    if not text or not text.isprintable():
        raise NoAddress(errno.EINVAL, "it is empty, or has more than one line. Write the password on one line")
    return text


def mail_addresses(people: Iterable[Person]) -> dict[str, frozenset[str]]:
    """To which addresses each person's mails go, in lower case; nobody in it of whom that cannot be told."""
    found = {person.name: frozenset(_targets(person)) for person in people}
    return {name: addresses for name, addresses in found.items() if addresses}


def _targets(person: Person) -> Iterator[str]:
    for route in person.routes:
        if not route.url.lower().startswith(("mailto://", "mailtos://")):
            continue
        try:
            parts = urlsplit(route.url)
            named = [name for told in parse_qs(parts.query).get("to", []) for name in told.split(",")]
            named += [unquote(name) for name in parts.path.split("/")]
            user, host = unquote(parts.username or ""), parts.hostname or ""
        except ValueError:
            continue
        targets = [name.strip().rpartition("<")[2].rstrip(">").lower() for name in named if "@" in name]
        yield from targets or ([user.lower() if "@" in user else f"{user}@{host}".lower()] if user else [])


def of_written(written: Mapping[str, Any]) -> Iterator[Fault]:
    """What is wrong with the table as it is written."""
    return exactly_one(written.get("mail_answers"), "mail_answers", PLACES, "password")


def mistakes(told: MailAnswersTable | None, *, handed: bool) -> Iterator[Fault]:
    """A password that is missing, or that others on this computer can read; see `secrets.unusable`."""
    if told is not None:
        yield from unusable(told, "mail_answers", PLACES, "password", lambda: password(told), handed=handed)
