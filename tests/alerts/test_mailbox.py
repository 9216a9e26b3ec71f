"""A mailbox of a real IMAP server: what is taken, what is left alone, and what is said while it is away."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import pytest

from watchdog.alerts.mail_folder import MOST_AT_ONCE, Away, Folder, Options
from watchdog.alerts.mailbox import TOLD_AFTER, Mailbox
from watchdog.alerts.replies import MOST_BYTES
from watchdog.clock import Clock

WORD = "pässword"


@dataclass
class Follower:
    """What was taken from a mailbox, and what was told of it."""

    mails: list[bytes] = field(default_factory=list)
    told: list[str | None] = field(default_factory=list)
    news: asyncio.Event = field(default_factory=asyncio.Event)

    async def take(self, raw: bytes) -> bool:
        self.mails.append(raw)
        self.news.set()
        return b"answer" in raw

    def report(self, sentence: str | None) -> None:
        self.told.append(sentence)
        self.news.set()

    async def until(self, true: Callable[[], Any]) -> None:
        async with asyncio.timeout(30):
            while not true():
                self.news.clear()
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(0.05):  # a flag in the file system gives no sign
                        await self.news.wait()


def options(dovecot: Any, **changed: Any) -> Options:
    told = Options("localhost", "watch", WORD, dovecot.port, root=dovecot.root, every=5, limit=5)
    return replace(told, **changed)


@asynccontextmanager
async def followed(told: Options, rate: float = 60.0) -> AsyncIterator[Follower]:
    follower = Follower()
    mailbox = Mailbox(told, Clock(rate), follower.take, follower.report)
    async with asyncio.TaskGroup() as tasks:
        task = tasks.create_task(mailbox.run())
        yield follower
        task.cancel()


async def test_an_answer_is_taken_once_and_marked_as_seen(dovecot: Any) -> None:
    async with followed(options(dovecot)) as follower:
        name = dovecot.deliver(b"Subject: answer\r\n\r\nok\r\n")
        await follower.until(lambda: dovecot.seen(name))
        later = dovecot.deliver(b"Subject: answer 2\r\n\r\nok\r\n")
        await follower.until(lambda: dovecot.seen(later))
    assert [mail.split(b"\r\n")[0] for mail in follower.mails] == [b"Subject: answer", b"Subject: answer 2"]
    assert set(follower.told) == {None}


async def test_a_mail_that_is_no_answer_stays_as_it_is_and_is_not_read_again(dovecot: Any) -> None:
    """It may be somebody's mailbox: what is not ours must still look unread to them."""
    other = dovecot.deliver(b"Subject: the meeting\r\n\r\nThursday\r\n")
    async with followed(options(dovecot)) as follower:
        await follower.until(lambda: follower.mails)
        name = dovecot.deliver(b"Subject: answer\r\n\r\nok\r\n")
        await follower.until(lambda: dovecot.seen(name))
    assert len(follower.mails) == 2
    assert not dovecot.seen(other)


async def test_only_the_named_folder_is_read(dovecot: Any) -> None:
    inbox = dovecot.deliver(b"Subject: answer in the inbox\r\n\r\nok\r\n")
    name = dovecot.deliver(b"Subject: answer\r\n\r\nok\r\n", ".Answers")
    async with followed(options(dovecot, folder="Answers")) as follower:
        await follower.until(lambda: dovecot.seen(name, ".Answers"))
    assert not dovecot.seen(inbox)


async def test_many_mails_are_read_in_portions_and_of_a_long_one_the_beginning(dovecot: Any) -> None:
    names = [dovecot.deliver(f"Subject: answer {n}\r\n\r\nok\r\n".encode()) for n in range(2 * MOST_AT_ONCE + 3)]
    names.append(dovecot.deliver(b"Subject: answer\r\n\r\n" + b"x" * 3 * MOST_BYTES))
    async with followed(options(dovecot)) as follower:
        await follower.until(lambda: all(map(dovecot.seen, names)))
    assert len(follower.mails) == len(names)
    assert max(map(len, follower.mails)) == MOST_BYTES


async def test_by_starttls_it_works_as_well(dovecot: Any) -> None:
    name = dovecot.deliver(b"Subject: answer\r\n\r\nok\r\n")
    async with followed(options(dovecot, port=dovecot.plain_port, tls="starttls")) as follower:
        await follower.until(lambda: dovecot.seen(name))


async def test_a_server_that_goes_away_and_comes_back_loses_no_answer(dovecot: Any) -> None:
    """Mail servers are restarted. Ten minutes without one are worth a word; before that nobody is bothered."""
    async with followed(options(dovecot), rate=600) as follower:
        await follower.until(lambda: follower.told)
        dovecot.stop()
        await follower.until(lambda: follower.told[-1] is not None)
        name = dovecot.deliver(b"Subject: answer\r\n\r\nok\r\n")
        dovecot.start()
        await follower.until(lambda: dovecot.seen(name) and follower.told[-1] is None)
    sentences = [told for told in follower.told if told is not None]
    assert sentences[0].startswith("mail answers: localhost")
    assert len(follower.mails) == 1


async def test_nobody_is_told_of_a_short_absence(dovecot: Any) -> None:
    dovecot.stop()
    clock = Clock(600.0)
    follower = Follower()
    async with asyncio.TaskGroup() as tasks:
        task = tasks.create_task(Mailbox(options(dovecot), clock, follower.take, follower.report).run())
        began = clock.now().elapsed
        await follower.until(lambda: follower.told)
        task.cancel()
    assert clock.now().elapsed - began >= TOLD_AFTER


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"password": "wr0ng-s3cret"}, "does not let watch in with this password"),
        ({"folder": "Nowhere"}, "there is no folder Nowhere for watch"),
        ({"root": None}, "its certificate is not trusted"),
        ({"host": "127.0.0.1"}, "its certificate is not trusted"),  # a name is looked for, and this is none
    ],
    ids=["password", "folder", "root", "name"],
)
async def test_what_does_not_mend_by_itself_is_told_at_once_and_without_the_password(
    changed: dict[str, Any], words: str, dovecot: Any
) -> None:
    async with followed(options(dovecot, **changed), rate=1.0) as follower:
        await follower.until(lambda: follower.told)
    (told,) = follower.told
    assert told is not None
    assert words in told
    assert not any(secret in told for secret in (WORD, "wr0ng-s3cret"))


@asynccontextmanager
async def speaking(
    serve: Callable[[asyncio.StreamReader, asyncio.StreamWriter], Awaitable[None]],
) -> AsyncIterator[int]:
    """A server on a port of its own, that has ended with all its connections afterwards."""
    served: list[asyncio.Event] = []

    async def one(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        over = asyncio.Event()
        served.append(over)
        with contextlib.suppress(ConnectionError):
            await serve(reader, writer)
        writer.close()
        with contextlib.suppress(ConnectionError):
            await writer.wait_closed()
        over.set()

    server = await asyncio.start_server(one, "127.0.0.1", 0)
    yield server.sockets[0].getsockname()[1]
    server.close()
    await server.wait_closed()
    for over in served:
        await over.wait()


async def test_the_password_is_never_sent_in_the_clear() -> None:
    """A server that offers no encryption, or somebody in the middle who takes the offer away, gets nothing."""
    heard: list[bytes] = []

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(b"* OK [CAPABILITY IMAP4rev1 AUTH=PLAIN] ready\r\n")
        while line := await reader.readline():
            heard.append(line)
            tag = line.split()[0].decode()
            writer.write(f"* CAPABILITY IMAP4rev1 AUTH=PLAIN\r\n{tag} OK\r\n".encode())

    async with speaking(serve) as port:
        folder = Folder(Options("127.0.0.1", "watch", "s3cret", port, tls="starttls", limit=5))
        with pytest.raises(Away, match=r"no encrypted|speaks no IMAP"):
            await asyncio.to_thread(folder.open)
        folder.close()
    assert heard
    assert not any(b"LOGIN" in line or b"AUTHENTICATE" in line for line in heard)


@pytest.mark.parametrize("tls", ["tls", "starttls"])
@pytest.mark.parametrize("said", [b"", b"* OK ready\r\n", b"HTTP/1.1 200 OK\r\n\r\n<html>", b"* OK \xff\r\n* 1\r\n{9"])
async def test_a_server_that_speaks_something_else_ends_as_a_sentence(
    said: bytes, tls: Literal["tls", "starttls"]
) -> None:
    """A captive portal, or the wrong port."""

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writer.write(said)
        await reader.read(1000)

    async with speaking(serve) as port:
        folder = Folder(Options("127.0.0.1", "watch", "s3cret", port, tls=tls, limit=1))
        with pytest.raises(Away) as away:
            await asyncio.to_thread(folder.open)
        folder.close()
    assert "s3cret" not in str(away.value)


async def test_a_server_that_says_nothing_does_not_hold_up_the_end() -> None:
    """The service is told to stop while it waits for an answer: it ends all the same, and leaves the waiting to itself."""
    reached, left = asyncio.Event(), asyncio.Event()

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        reached.set()
        await reader.read()
        left.set()

    async with speaking(serve) as port:
        async with followed(Options("127.0.0.1", "watch", "s3cret", port, tls="starttls", limit=3)):
            await reached.wait()
        assert not left.is_set()
