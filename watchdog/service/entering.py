"""Entries at the running service: into the record, and to the workers that they concern."""

from collections.abc import Mapping
from functools import partial
from typing import Any

from watchdog.clock import Clock
from watchdog.core.events import SpoolSet
from watchdog.core.moment import Moment
from watchdog.record.faults import RecordUnusable
from watchdog.record.store import Record
from watchdog.record.term_rows import SpoolRow
from watchdog.service.entries import VERBS, enter
from watchdog.service.keeping import Keeping
from watchdog.service.summing import Stock
from watchdog.service.watching import Watching
from watchdog.settings import Settings


class Entering:
    """Takes what people say of jobs, sheets and spools."""

    def __init__(self, settings: Settings, keeping: Keeping, clock: Clock, workers: Mapping[str, Watching]) -> None:
        self._settings = settings
        self._keeping = keeping
        self._clock = clock
        self._workers = workers

    def takes(self, verb: object) -> bool:
        """Whether `verb` is an entry."""
        return verb in VERBS or verb == "spools"

    async def answer(self, request: dict[str, Any], by: str) -> dict[str, Any]:
        """What `request` comes to. Refusals are ValueErrors."""
        if request["do"] == "spools":
            return {"machines": [self._running(name) for name in self._settings.machines]}
        now = self._clock.now()
        do = partial(enter, settings=self._settings, request=request, now=now.stamp, by=by)
        try:
            entered = await self._keeping.use(do)
            if entered.spool_of is not None:
                await self._tell_spool(entered.spool_of, now, by)
        except RecordUnusable as unusable:
            raise ValueError(f"{unusable} Nothing was entered; enter it again then.") from None
        return entered.answer

    async def take_up(self, worlds: Mapping[str, tuple[str, Moment]]) -> None:
        """Tell the workers of the spools that were entered while no service ran. `worlds`: as they were last stored."""
        now = self._clock.now()
        for name in self._settings.machines:
            spool = await self._keeping.use(partial(_loaded, machine=name))
            known = self._workers[name].world.spool
            if spool is not None:
                self._workers[name].loaded(_stock(spool))
            last = 0.0 if spool is None else max(spool.loaded, spool.weighed or 0.0)
            stored = worlds[name][1].stamp if name in worlds else 0.0
            left = None if spool is None else spool.left_mm
            if (known is None and left is not None) or (known is not None and (left is None or last > stored)):
                self._workers[name].post(SpoolSet(now, left, "record" if spool is None else spool.loaded_by))

    async def _tell_spool(self, name: str, now: Moment, by: str) -> None:
        worker = self._workers.get(name)
        if worker is None:
            return
        spool = await self._keeping.use(partial(_loaded, machine=name))
        if spool is not None:
            worker.loaded(_stock(spool))
        await worker.ask(SpoolSet(now, None if spool is None else spool.left_mm, by))

    def _running(self, name: str) -> dict[str, Any]:
        """The account as it runs, mm: what is left, and what the present job still needs."""
        worker = self._workers[name]
        seen = worker.seen()
        return {"machine": name, "left_mm": seen.spool, "needed_mm": seen.needed if seen.active else None}


def _loaded(record: Record, machine: str) -> SpoolRow | None:
    rows = record.spools(machine, loaded_only=True)
    return rows[-1] if rows else None


def _stock(spool: SpoolRow) -> Stock:
    return Stock(spool.material, spool.density, spool.diameter)
