"""The rooms that are there if they are asked for: calendars, page, numbers, the day's notices; and the computer itself.

Each is made from the settings, tied to the workers, and given back as a task with its name. What keeps one from its work is
told to the watch's health and ends nothing else.
"""

import asyncio
from collections.abc import Callable, Coroutine, Mapping
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, NamedTuple

import structlog

from watchdog.alerts.mailbox import Mailbox
from watchdog.alerts.matters import Matter
from watchdog.clock import Clock
from watchdog.core.events import HostEnds
from watchdog.core.finding import Evidence
from watchdog.core.snapshot import Snapshot
from watchdog.core.step import stale_sensors
from watchdog.core.timetable import Timetable
from watchdog.host import computer, vitals
from watchdog.host.awake import Awake
from watchdog.host.heartbeat import Heartbeat
from watchdog.page import key as page_key
from watchdog.page.links import Claim, Key, link_for
from watchdog.record.faults import RecordUnusable
from watchdog.record.store import Record
from watchdog.service import claims, standing_people
from watchdog.service.counted import Counted
from watchdog.service.day import Day
from watchdog.service.deeds import LinkDeeds
from watchdog.service.digest import sum_up
from watchdog.service.health import Health
from watchdog.service.keeping import Keeping
from watchdog.service.mail_answers import MailAnswers, mark_for
from watchdog.service.watching import Watching
from watchdog.settings.addresses import NoAddress
from watchdog.settings.calendar_sources import NoCalendar, calendars_of
from watchdog.settings.computer import depends
from watchdog.settings.fill import ITSELF, people_of, week_of, zone_of
from watchdog.settings.heartbeat import heartbeat_of
from watchdog.settings.mail_options import mail_addresses, mailbox_of
from watchdog.settings.model import Settings
from watchdog.settings.notices import wanted
from watchdog.settings.page import page_of
from watchdog.settings.places import Kept
from watchdog.settings.routing import plan_of
from watchdog.timetable.school import School

if TYPE_CHECKING:
    from watchdog.service.on_network import OnNetwork

COMPUTER_EVERY = 30.0  # s between two looks at the watching computer
BURDEN_EVERY = 60.0  # s between two counts of what people were told
STALE = 30.0  # s without a worked tick from which the heartbeat stops
SENSORS_EVERY = 10.0  # s between two looks at which sensors have gone quiet
DEPENDS_EVERY = 5.0  # s between two looks at which jobs depend on it

Task = tuple[str, Coroutine[Any, Any, None]]


class Shared(NamedTuple):
    """What these rooms work with."""

    settings: Settings
    kept: Kept
    clock: Clock
    workers: Mapping[str, Watching]
    keeping: Keeping
    health: Health
    network: "OnNetwork | None" = None
    """the broker's room; None without one"""


class Rooms:
    """The rooms of one service."""

    def __init__(self, shared: Shared) -> None:
        self._s = shared
        self._log = structlog.get_logger()
        self._key: Key | None = None
        self._options = page_of(shared.settings.page, zone_of(shared.settings))
        self.school: School | None = None
        self.awake: Awake | None = None
        self._may_sleep: str | None = None
        self._plan = plan_of(shared.settings)
        self._burden: dict[str, Any] = {}
        self._refused: Callable[[], Mapping[str, int]] = dict
        self._answers: MailAnswers | None = None
        self._vitals: vitals.Vitals | None = None
        if self._options is not None or shared.settings.mail_answers is not None:
            try:
                self._key = page_key.kept(shared.kept.state)
            except page_key.NoKey as none:
                shared.health.tell("page", (str(none),))

    def link(self, person: str, matter: Matter) -> str | None:
        """The link that answers `matter` for `person`; None where there is no page or nothing to answer."""
        if self._options is None:
            return None
        return self._link(claims.to_answer(person, matter, self._s.clock.now().stamp + self._options.links_last))

    def outlast_link(self, person: str, matter: Matter) -> str | None:
        """The link that allows the job of `matter` to outlast the supervised hours; None where that is not the matter."""
        if self._options is None:
            return None
        expires = self._s.clock.now().stamp + self._options.links_last
        return self._link(claims.to_allow(person, matter, expires, self._s.workers))

    def mark(self, person: str, matter: Matter) -> str | None:
        """The mark by which the mailed answer of `person` to `matter` is known; None where no mailbox is read."""
        told = self._s.settings.mail_answers
        if told is None:
            return None
        return self._mark(claims.to_answer(person, matter, self._s.clock.now().stamp + told.answers_last))

    def outlast_mark(self, person: str, matter: Matter) -> str | None:
        """The mark by which `person` allows the job of `matter` to outlast the supervised hours."""
        told = self._s.settings.mail_answers
        if told is None:
            return None
        expires = self._s.clock.now().stamp + told.answers_last
        return self._mark(claims.to_allow(person, matter, expires, self._s.workers))

    def _link(self, claim: Claim | None) -> str | None:
        return None if self._options is None or claim is None else link_for(self._options.address, self._key, claim)

    def _mark(self, claim: Claim | None) -> str | None:
        return None if claim is None else mark_for(self._key, claim)

    def tasks(self, counted: Counted) -> list[Task]:
        """Everything that runs beside the workers, by name."""
        shared, settings = self._s, self._s.settings
        found: list[Task] = [("computer", self._look_after_computer()), ("hours", self._follow_calendars())]
        if settings.people:
            found.append(("burden", self._count_burden()))
        if settings.heartbeat is not None:
            found.append(("heartbeat", self._beat()))
        if settings.sensors:
            found.append(("sensors", self._look_at_sensors()))
        if settings.computer.keep_awake != "never":
            self.awake = Awake(self._not_awake, shared.clock.sleep)
            found += [("awake", self.awake.run()), ("depends", self._see_who_depends(self.awake))]
        if self._options is not None and self._key is not None:
            found.append(("page", self._page(self._key)))
        if settings.mail_answers is not None and self._key is not None:
            found.append(("mail answers", self._read_answers(self._key)))
        if wanted(settings.notices):
            found.append(("day", self._day().run()))
        if shared.network is not None:
            found.append(("mqtt", shared.network.run()))
        if settings.metrics is not None:
            found.append(("numbers", self._numbers(counted)))
        return found

    def facts(self) -> dict[str, Any]:
        """What `status` tells of them."""
        return {
            "calendars": None if self.school is None else self.school.facts(),
            "hours": standing_people.hours(self._timetable, self._s.clock.now()),
            "ladders": standing_people.ladders(self._plan, self._timetable, self._s.clock.now()),
            "burden": self._burden,
            "kept_awake": self.awake is not None and self.awake.held,
            "not_kept_awake": self._may_sleep,
            "page": None if self._options is None else self._options.address,
            "mail_answers": None if self._answers is None else dict(self._answers.counts),
            "mqtt": None if self._s.network is None else self._s.network.facts(),
            "computer": None if self._vitals is None else self._vitals._asdict(),
        }

    @property
    def _timetable(self) -> Timetable | None:
        return self._s.workers[ITSELF].watch.timetable

    async def _count_burden(self) -> None:
        """How often each person was spoken to today, for `status`."""
        shared = self._s
        while True:
            now = shared.clock.now()
            timetable = self._timetable or Timetable(zone_of(shared.settings))
            with suppress(RecordUnusable):  # told by whoever writes next
                told = await shared.keeping.use(partial(Record.messages, since=now.stamp - 2 * 86400.0))
                self._burden = standing_people.burden(told, self._plan, timetable, now)
            await shared.clock.sleep(BURDEN_EVERY)

    async def _beat(self) -> None:
        shared = self._s
        try:
            options = heartbeat_of(shared.settings.heartbeat, shared.settings.network)
        except NoAddress as none:
            self._tell("heartbeat", f"heartbeat: its address cannot be read: {none.strerror}.")
            return
        if options is not None:
            await Heartbeat(options, shared.clock, self._alive, partial(self._tell, "heartbeat")).run()

    def _alive(self) -> bool:
        """Every worker has worked on a tick not long ago."""
        now = self._s.clock.now().elapsed
        ticks = [worker.last_tick for worker in self._s.workers.values()]
        return all(tick is not None and now - tick.elapsed < STALE * self._s.clock.rate for tick in ticks)

    def _not_awake(self, sentence: str | None) -> None:
        """Told in the log and by `status`, and to nobody's phone: most computers beside a printer never sleep."""
        if sentence is not None and sentence != self._may_sleep:
            self._log.warning(sentence)
        self._may_sleep = sentence

    def _tell(self, subject: str, sentence: str | None) -> None:
        self._s.health.tell(subject, () if sentence is None else (sentence,))

    async def _follow_calendars(self) -> None:
        """The timetable of week and calendars, handed to every worker."""
        copies = self._s.kept.state / "calendars" if self._s.settings.calendars else None
        try:
            options = calendars_of(self._s.settings, copies)
        except NoCalendar as none:
            self._s.health.tell("calendars", (str(none),))
            return
        if options.week is None and not options.calendars:
            return
        self.school = School(options, self._s.clock, self._hand_out, partial(self._s.health.tell, "calendars"))
        await self.school.run()

    def _hand_out(self, timetable: Timetable) -> None:
        for worker in self._s.workers.values():
            worker.watch = replace(worker.watch, timetable=timetable)

    async def _page(self, key: Key) -> None:
        from watchdog.page.server import Page  # loads a web server, which most services do without

        if self._options is None:
            return
        languages = {person.name: person.language for person in people_of(self._s.settings)}
        deeds = LinkDeeds(self._s.workers, self._s.keeping, self._s.clock, ITSELF, languages)
        page = Page(self._options, deeds, key, self._s.clock, partial(self._tell, "page"), languages=languages)
        self._refused = lambda: {"page": sum(page.counts.values())}
        await page.run()

    async def _read_answers(self, key: Key) -> None:
        shared = self._s
        try:
            options = mailbox_of(shared.settings.mail_answers, shared.settings.network)
            addresses = mail_addresses(people_of(shared.settings))
        except NoAddress as none:
            self._tell("mail answers", f"mail answers: a secret cannot be read: {none.strerror}.")
            return
        if options is None:
            return
        deeds = LinkDeeds(shared.workers, shared.keeping, shared.clock, ITSELF)
        self._answers = answers = MailAnswers(deeds, shared.workers, key, shared.clock, addresses)
        await Mailbox(options, shared.clock, answers.take, partial(self._tell, "mail answers")).run()

    def _refused_mails(self) -> dict[str, int]:
        return {} if self._answers is None else {"mail": self._answers.refused}

    async def _numbers(self, counted: Counted) -> None:
        from watchdog.service.numbers import Numbers  # loads the metrics library

        asked = self._s.settings.metrics
        if asked is None:
            return
        numbers = Numbers(
            asked.address,
            asked.port,
            self._s.workers,
            ITSELF,
            self._s.keeping,
            self._s.clock,
            lambda: (counted.attempts, counted.took),
            self._not_taken,
            lambda: None if self._s.network is None else self._s.network.waiting,
            partial(self._tell, "metrics"),
        )
        await numbers.run()

    def _not_taken(self) -> dict[str, int]:
        network = self._s.network
        return {**self._refused(), **self._refused_mails(), **({} if network is None else {"mqtt": network.refused})}

    def _day(self) -> Day:
        settings = self._s.settings
        own = self._s.workers[ITSELF]
        return Day(
            own,
            self._s.clock,
            zone_of(settings),
            wanted(settings.notices),
            settings.notices.digest,
            lambda: own.watch.timetable,
            lambda: {name: worker.seen() for name, worker in self._s.workers.items() if name != ITSELF},
            self._sum_up,
        )

    async def _sum_up(self, since: float, until: float) -> Evidence:
        return await self._s.keeping.use(partial(sum_up, settings=self._s.settings, since=since, until=until))

    async def _look_after_computer(self) -> None:
        """In real time, also where the clock runs faster: the computer does not."""
        settings, rate = self._s.settings, self._s.clock.rate
        limits = computer.Limits(
            lasts=300.0 * rate, clock_matters=bool(settings.calendars) or week_of(settings) is not None
        )
        memory = computer.Memory()
        told: tuple[float | None, str] | None = None
        while True:
            seen = await asyncio.to_thread(vitals.look, self._s.kept.state)
            self._vitals = seen
            memory, sentences = computer.judge(limits, memory, seen, zone_of(settings), self._s.clock.now())
            self._s.health.tell("computer", sentences)
            ends = HostEnds(self._s.clock.now(), seen.ends_at, seen.ends_how or "")
            if (ends.ends_at, ends.how) != told:  # what the workers were told before, also before a restart, they keep
                told = (ends.ends_at, ends.how)
                for name, worker in self._s.workers.items():
                    if name != ITSELF:
                        worker.post(ends)
            await self._s.clock.sleep(COMPUTER_EVERY * rate)

    async def _look_at_sensors(self) -> None:
        """A sensor that has gone quiet is told of with the watch's own health: what it would tell is unknown."""
        while True:
            for name, worker in self._s.workers.items():
                if worker.watch.sensors:
                    stale = stale_sensors(worker.world, worker.watch, self._s.clock.now())
                    self._s.health.tell(f"sensors of {name}", stale)
            await self._s.clock.sleep(SENSORS_EVERY)

    async def _see_who_depends(self, awake: Awake) -> None:
        while True:
            awake.want(any(depends(self._s.settings.computer, seen) for seen in self._machines()))
            await self._s.clock.sleep(DEPENDS_EVERY)

    def _machines(self) -> list[Snapshot]:
        return [worker.seen() for name, worker in self._s.workers.items() if name != ITSELF]
