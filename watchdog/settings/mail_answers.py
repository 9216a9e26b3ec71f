"""The mailbox in which answers to messages arrive: how it is reached, and how long an answer counts."""

import re
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, SecretStr

from watchdog.settings.base import Model
from watchdog.settings.kinds import Credential
from watchdog.settings.quantities import Count, Place, Seconds

_HOST = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]{0,250}[A-Za-z0-9])?\.?\Z|[0-9A-Fa-f:]{2,39}\Z", re.ASCII)


def _host(written: str) -> str:
    if not _HOST.match(written):
        raise ValueError(
            'is no name or address of a mail server. Write it as "imap.example.org", without imaps:// or port'
        )
    return written


def _folder(written: str) -> str:
    if not written or not written.isascii() or not written.isprintable() or set(written) & {'"', "\\", "*", "%"}:
        raise ValueError("is no folder that can be read here: use letters without accents, digits, blanks and . / - _")
    return written


class MailAnswersTable(Model):
    """The mailbox; without its table mails are sent and no answer is read."""

    host: Annotated[str, AfterValidator(_host)]
    """the IMAP server"""
    port: Count | None = Field(default=None, ge=1, le=65535)
    """993, or with tls = "starttls" 143, when left out"""
    tls: Literal["tls", "starttls"] = "tls"
    """encrypted from the start, or from the first command on; never in the clear"""
    user: str = Field(min_length=1, max_length=200)
    """the account; its password comes from exactly one of the next three"""
    password: SecretStr | None = None
    """the password itself; keep the file readable by the service alone"""
    password_file: Place | None = None
    """a file that holds the password and nothing else"""
    credential: Credential | None = None
    """name of a systemd credential that holds the password"""
    folder: Annotated[str, AfterValidator(_folder)] = Field(default="INBOX", max_length=200)
    """the only folder that is read"""
    root_certificate: Place | None = None
    """PEM file of the server's own root certificate; that of [network] when left out"""
    every: Seconds = Field(default=30.0, ge=5, le=600)
    """s between two looks"""
    answers_last: Seconds = Field(default=12 * 3600.0, ge=600, le=7 * 86400)
    """s for which a mail can be answered"""
