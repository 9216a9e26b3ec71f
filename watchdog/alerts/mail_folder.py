"""One folder of a mailbox by IMAP (RFC 3501), over an encrypted connection only. It blocks: call it from a thread.

Nothing is ever deleted or moved; the only thing that changes is the flag \\Seen of a mail that was an answer. What goes wrong
is told as `Away` in words of our own: the library's and the server's can repeat what was sent to them, the password with it.
"""

import imaplib
import socket
import ssl
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

from watchdog.alerts.replies import MOST_BYTES

MOST_DAYS = 9
"""d that a mail may lie unread and still be looked at; no mark holds for longer than a week"""
MOST_AT_ONCE = 10
"""mails read in one look: each takes up to 256 kB"""

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")  # in every language


@dataclass(frozen=True, slots=True)
class Options:
    """Which folder, and how it is reached."""

    host: str
    user: str
    password: str = field(repr=False)
    port: int = 993
    folder: str = "INBOX"
    """printable ASCII without quotation marks and backslashes"""
    tls: Literal["tls", "starttls"] = "tls"
    """'tls': encrypted from the start; 'starttls': from the first command on (RFC 3501, section 6.2.1)"""
    root: Path | None = None
    """PEM file of a root certificate that is trusted beside the system's"""
    every: float = 30.0
    """s between two looks"""
    limit: float = 20.0
    """real s for one answer of the server"""


class Away(Exception):
    """The folder cannot be read now. The message is a sentence for people and holds no secret."""

    def __init__(self, sentence: str, *, lasting: bool = False) -> None:
        """`lasting`: it does not mend by itself, somebody has to do something."""
        super().__init__(sentence)
        self.lasting = lasting


class Folder:
    """One connection. Raises Away from everything but `close`, which any thread may call at any time."""

    def __init__(self, options: Options) -> None:
        self._options = options
        self._imap: imaplib.IMAP4 | None = None
        self._closed = False
        self.uid_validity = ""
        """while it is the same, a mail keeps its number (RFC 3501, section 2.3.1.1)"""

    def open(self) -> None:
        """Connect, sign in and choose the folder."""
        told = self._options
        where = f"{told.host} port {told.port}"
        try:
            context = ssl.create_default_context()
            if told.root is not None:
                context.load_verify_locations(told.root)
        except (OSError, ValueError):
            raise Away(f"the root certificate {told.root} cannot be used.", lasting=True) from None
        try:
            self._connect(context)
        except ssl.SSLCertVerificationError as wrong:
            remedy = "Where the network or the server has a root certificate of its own, name it: root_certificate."
            raise Away(
                f"{where}: its certificate is not trusted: {wrong.verify_message}. {remedy}", lasting=True
            ) from None
        except ssl.SSLError:
            raise Away(f'{where}: no encrypted connection. Try the other: tls = "tls" or "starttls".') from None
        except (OSError, imaplib.IMAP4.error) as wrong:
            raise Away(f"{where}: {_cause(wrong)}.") from None
        self._sign_in(where)
        self._choose()

    def new(self, known: frozenset[bytes], today: float) -> list[tuple[bytes, bytes]]:
        """Number and content of the oldest unseen mails that are not `known`, at most `MOST_AT_ONCE`; of long ones the
        beginning. `today` is a stamp."""
        since = datetime.fromtimestamp(today - MOST_DAYS * 86400, UTC)
        date = f"{since.day}-{_MONTHS[since.month - 1]}-{since.year}"
        self._do(lambda imap: imap.noop())  # some servers tell of new mails only then
        found = self._do(lambda imap: imap.uid("SEARCH", "UNSEEN", "SINCE", date))
        numbers = [number for number in (found[0] or b"").split() if number.isdigit() and number not in known]
        return [(number, self._content(number)) for number in numbers[:MOST_AT_ONCE]]

    def seen(self, number: bytes) -> None:
        """Mark the mail as seen."""
        self._do(lambda imap: imap.uid("STORE", number.decode(), "+FLAGS.SILENT", r"(\Seen)"))

    def close(self) -> None:
        """End the connection; a thread that waits for an answer is set free."""
        self._closed = True
        imap, self._imap = self._imap, None
        if imap is not None:
            with suppress(OSError):
                imap.sock.shutdown(socket.SHUT_RDWR)
            with suppress(OSError, imaplib.IMAP4.error):
                imap.shutdown()

    def _connect(self, context: ssl.SSLContext) -> None:
        told = self._options
        if told.tls == "tls":
            self._imap = imaplib.IMAP4_SSL(told.host, told.port, ssl_context=context, timeout=told.limit)
        else:
            self._imap = imaplib.IMAP4(told.host, told.port, timeout=told.limit)
            self._imap.starttls(context)
        if self._closed:  # nobody waits for it any more
            self.close()

    def _sign_in(self, where: str) -> None:
        told = self._options
        secret = f"\0{told.user}\0{told.password}".encode()  # SASL PLAIN takes any letters (RFC 4616), LOGIN does not
        try:
            imap = self._connected()
            if "AUTH=PLAIN" in imap.capabilities:
                imap.authenticate("PLAIN", lambda _: secret)
            else:
                imap.login(told.user, told.password)
        except imaplib.IMAP4.abort as wrong:
            raise Away(f"{where}: {_cause(wrong)}.") from None
        except imaplib.IMAP4.error:
            fault = f"{where}: it does not let {told.user} in with this password."
            raise Away(f"{fault} Some services want a password made for one program.", lasting=True) from None
        except UnicodeError:
            raise Away(f"{where}: it takes no such letters in user or password.", lasting=True) from None
        except OSError as wrong:
            raise Away(f"{where}: {_cause(wrong)}.") from None

    def _choose(self) -> None:
        told = self._options
        try:
            status, _ = self._connected().select(f'"{told.folder}"')
        except imaplib.IMAP4.readonly:
            raise Away(f"the folder {told.folder} cannot be written to by {told.user}.", lasting=True) from None
        except (OSError, imaplib.IMAP4.error) as wrong:
            raise Away(f"{told.host}: {_cause(wrong)}.") from None
        if status != "OK":
            raise Away(f"there is no folder {told.folder} for {told.user}.", lasting=True)
        _, numbers = self._connected().response("UIDVALIDITY")
        first = numbers[0] if numbers else None
        self.uid_validity = first.decode("ascii", "replace") if isinstance(first, bytes) else ""

    def _content(self, number: bytes) -> bytes:
        """The beginning of the mail; empty when it has gone meanwhile."""
        found = self._do(lambda imap: imap.uid("FETCH", number.decode(), f"(BODY.PEEK[]<0.{MOST_BYTES}>)"))
        return next((piece[1] for piece in found if isinstance(piece, tuple)), b"")

    def _do(self, ask: Any) -> list[Any]:
        try:
            status, found = ask(self._connected())
        except (OSError, imaplib.IMAP4.error, ValueError) as wrong:
            raise Away(f"{self._options.host}: {_cause(wrong)}.") from None
        if status != "OK":
            raise Away(f"{self._options.host}: it refused to read the folder {self._options.folder}.")
        return list(found)

    def _connected(self) -> imaplib.IMAP4:
        if self._imap is None:
            raise Away(f"{self._options.host}: the connection is closed.")
        return self._imap


def _cause(wrong: Exception) -> str:
    """Without a word of what was sent or answered."""
    if isinstance(wrong, TimeoutError):
        return "no answer in time"
    if isinstance(wrong, socket.gaierror):
        return "there is no such host, or no way to ask for it"
    if isinstance(wrong, OSError) and wrong.strerror:
        return wrong.strerror
    return "the connection ended, or it speaks no IMAP"
