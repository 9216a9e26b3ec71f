"""What the control socket answers: the status, and what a person says to the watch."""

from collections.abc import Callable, Mapping
from typing import Any

from watchdog.clock import Clock
from watchdog.core.effects import Noted
from watchdog.core.events import Acknowledge, Allowed, Event, Expectation, Forget, Shelve, Unshelve
from watchdog.core.moment import Moment
from watchdog.service import standing
from watchdog.service.beside import Repair
from watchdog.service.entering import Entering
from watchdog.service.said import one_line
from watchdog.service.watching import Watching
from watchdog.service.wires import Wire


class Answers:
    """Answers for the workers of one service. Refusals are ValueErrors with a sentence that helps."""

    def __init__(
        self,
        workers: Mapping[str, Watching],
        wires: Mapping[str, Wire],
        clock: Clock,
        itself: str,
        of_watch: Callable[[], dict[str, Any]],
        entering: Entering,
    ) -> None:
        """`of_watch` tells how the watch itself is; `itself` is the name of its own worker."""
        self._workers = workers
        self._wires = wires
        self._clock = clock
        self._itself = itself
        self._of_watch = of_watch
        self._entering = entering
        self._started = clock.now()

    async def answer(self, account: str, request: dict[str, Any]) -> dict[str, Any]:
        """What `request` of `account` comes to."""
        verb = request.get("do")
        if verb == "status":
            return self._status()
        by = one_line(str(request.get("by") or ""))[:80] or account
        if self._entering.takes(verb):
            return await self._entering.answer(request, by)
        now = self._clock.now()
        if verb == "expect":
            name = self._only_machine(request.get("machine"))
            seconds = _number(request, "seconds", least=1.0, most=14 * 86400.0)
            await self._workers[name].ask(Expectation(now, seconds, "operator"))
            return {"machine": name, "seconds": seconds}
        if verb == "forget":
            name = self._only_machine(request.get("machine"))
            await self._workers[name].ask(Forget(now, by))
            return {"machine": name}
        if verb == "allow":
            name = self._only_machine(request.get("machine"))
            stays = one_line(str(request.get("stays") or ""))[:80] or by
            said = await self._workers[name].ask(Allowed(now, by, stays))
            if not any(isinstance(effect, Noted) and effect.kind == "allowed-to-outlast" for effect in said):
                raise ValueError(f"{name} runs no job that could be allowed to run on.")
            return {"machine": name, "stays": stays}
        if verb == "repair":
            name = self._only_machine(request.get("machine"))
            if request.get("end"):
                self._workers[name].repair(now, None, by)
                return {"machine": name}
            seconds = _number(request, "seconds", least=60.0, most=14 * 86400.0)
            reason = _reason(request)
            self._workers[name].repair(now, Repair(now.elapsed + seconds, by, reason), by)
            return {"machine": name, "seconds": seconds}
        if verb in {"acknowledge", "shelve", "unshelve"}:
            return {
                "done": [
                    await self._one(str(verb), name, alarm, by, now, request) for name, alarm in self._meant(request)
                ]
            }
        raise ValueError("no such request")

    async def _one(
        self, verb: str, name: str, alarm: str, by: str, now: Moment, request: dict[str, Any]
    ) -> dict[str, Any]:
        event: Event
        if verb == "acknowledge":
            event = Acknowledge(now, alarm, by, "command")
        elif verb == "shelve":
            seconds = _number(request, "seconds", least=1.0, most=86400.0)
            event = Shelve(now, alarm, seconds, by, _reason(request))
        else:
            event = Unshelve(now, alarm, by)
        effects = await self._workers[name].ask(event)
        return {"id": f"{name}/{alarm}", "changed": bool(effects)}

    def _meant(self, request: dict[str, Any]) -> list[tuple[str, str]]:
        """The (machine, alarm) pairs that a request means. Raises ValueError with a sentence that helps."""
        asked = str(request.get("alarm", ""))
        if "/" in asked:
            name, alarm = asked.split("/", 1)
            if name not in self._workers:
                raise ValueError(f"there is no machine {name!r}. Watched here: {', '.join(sorted(self._workers))}.")
            if alarm not in self._workers[name].watch.table:
                raise ValueError(f"there is no alarm {alarm!r}. `emberward status` shows those that stand.")
            return [(name, alarm)]
        now = self._clock.now()
        stand = [
            (name, row["alarm"])
            for name, worker in self._workers.items()
            for row in standing.standing(name, worker.world, now)
            if row["alarm"] == asked
        ]
        if len(stand) == 1:
            return stand
        if stand:
            pairs = ", ".join(f"{name}/{alarm}" for name, alarm in stand)
            raise ValueError(f"{asked} stands on several machines. Say which: {pairs}.")
        known = [(name, asked) for name, worker in self._workers.items() if asked in worker.watch.table]
        if request.get("do") != "acknowledge" and len(known) == 1:
            return known
        raise ValueError(f"no alarm {asked!r} stands. `emberward status` shows those that do.")

    def _only_machine(self, asked: object) -> str:
        names = sorted(self._wires)
        if asked in names:
            return str(asked)
        if asked is None and len(names) == 1:
            return names[0]
        raise ValueError(f"say which machine: {', '.join(names)}.")

    def _status(self) -> dict[str, Any]:
        now = self._clock.now()
        machines = [
            {**_machine(name, self._workers[name], now), **_repair(self._workers[name], now), **wire.facts()}
            for name, wire in self._wires.items()
        ]
        watch = {**self._of_watch(), "alarms": standing.standing(self._itself, self._workers[self._itself].world, now)}
        watch["dropped_lines"] = sum(worker.dropped for worker in self._workers.values())
        return standing.whole(self._started, now, machines, watch)


def _machine(name: str, worker: Watching, now: Moment) -> dict[str, Any]:
    seen, world = worker.seen(), worker.world
    return {
        **standing.machine(name, seen, world, now),
        "sensors": standing.sensors(seen, world, now),
    }


def _repair(worker: Watching, now: Moment) -> dict[str, Any]:
    repair = worker.memories.repair
    if repair is not None and repair.until <= now.elapsed:
        repair = None
    return {
        "out_of_service_for_s": None if repair is None else round(repair.until - now.elapsed),
        "out_of_service_by": None if repair is None else repair.by,
        "out_of_service_why": None if repair is None else repair.reason,
    }


def _reason(request: dict[str, Any]) -> str:
    """Why something is silenced. Whoever comes next has to know, so there is no silence without one."""
    reason = one_line(str(request.get("reason") or ""))[:200]
    if not reason:
        raise ValueError('say why, for whoever comes next: --reason "cable".')
    return reason


def _number(request: dict[str, Any], name: str, *, least: float, most: float) -> float:
    value = request.get(name)
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
        raise ValueError(f"{name} must be a number from {least:g} to {most:g}")
    return float(value)
