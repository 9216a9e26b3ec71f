"""Follows one folder of a mailbox for answers while the service runs. A mailbox that is away is news, not an error."""

import asyncio
import threading
from collections.abc import Awaitable, Callable
from contextlib import suppress
from functools import partial
from typing import TypeVar

from watchdog.alerts.backoff import BackOff
from watchdog.alerts.mail_folder import MOST_AT_ONCE, Away, Folder, Options
from watchdog.clock import Clock

TOLD_AFTER = 600.0
"""s that it may be away before anybody is told: servers are restarted; project's choice"""
PAUSES = BackOff(30.0, 600.0)
"""between tries while it is away"""
MOST_KNOWN = 20_000
"""numbers remembered of unseen mails that are no answers; past it the folder is looked through anew"""

_T = TypeVar("_T")


class Mailbox:
    """`take` gets each new mail and says whether it was an answer: such a mail is marked as seen, all others stay as they are.

    A mail is marked only after it was taken: a crash in between brings it again. `report` gets a sentence while the mailbox is
    away (after ten minutes, or at once where it does not mend by itself), and None once it is read again.
    """

    def __init__(
        self,
        options: Options,
        clock: Clock,
        take: Callable[[bytes], Awaitable[bool]],
        report: Callable[[str | None], None],
    ) -> None:
        self._options = options
        self._clock = clock
        self._take = take
        self._report = report
        self._known: set[bytes] = set()
        self._validity = ""

    async def run(self) -> None:
        """Until cancelled."""
        failed, since = 0, self._clock.now().elapsed
        while True:
            folder = Folder(self._options)
            try:
                await _in_thread(folder.open)
                self._knows(folder.uid_validity)
                while True:
                    await self._look(folder)
                    failed, since = 0, self._clock.now().elapsed
                    self._report(None)
                    await self._clock.sleep(self._options.every)
            except Away as away:
                failed += 1
                if away.lasting or self._clock.now().elapsed - since >= TOLD_AFTER:
                    self._report(f"mail answers: {away}")
            finally:
                folder.close()
            await self._clock.sleep(PAUSES.after(failed))

    def _knows(self, validity: str) -> None:
        if validity != self._validity:
            self._validity = validity
            self._known.clear()

    async def _look(self, folder: Folder) -> None:
        """Everything that has come since the last look."""
        while True:
            known, today = frozenset(self._known), self._clock.now().stamp
            mails = await _in_thread(partial(folder.new, known, today))
            for number, content in mails:
                if await self._take(content):
                    await _in_thread(partial(folder.seen, number))
                if len(self._known) >= MOST_KNOWN:
                    self._known.clear()
                self._known.add(number)
            if len(mails) < MOST_AT_ONCE:
                return


async def _in_thread(work: Callable[[], _T]) -> _T:
    """`work` in a thread of its own that nobody waits for at the end: looking up a host's name can take a minute."""
    loop = asyncio.get_running_loop()
    done: asyncio.Future[_T] = loop.create_future()

    def settle(result: _T | None, fault: BaseException | None) -> None:
        if done.cancelled():
            return
        if fault is not None:
            done.set_exception(fault)
        else:
            done.set_result(result)  # type: ignore[arg-type]

    def run() -> None:
        result: _T | None = None
        fault: BaseException | None = None
        try:
            result = work()
        except BaseException as wrong:  # told to whoever waits
            fault = wrong
        with suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(settle, result, fault)

    threading.Thread(target=run, name="mailbox", daemon=True).start()
    return await done
