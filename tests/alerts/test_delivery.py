"""From the outbox to the people: through real children to real servers; only the clock is set by hand."""

import asyncio
import contextlib
import sqlite3
from collections.abc import AsyncIterator, Callable, Sequence
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from watchdog.alerts.delivery import Delivery, Options
from watchdog.alerts.routes import Person, Route
from watchdog.alerts.sender import Result, send
from watchdog.alerts.wording import Minute, Words
from watchdog.clock import Clock
from watchdog.core.effects import Priority, TellKind
from watchdog.core.moment import Moment
from watchdog.record.parcels import Outcome, Parcel

RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
CLOSED = "json://127.0.0.1:1/nobody"

MakeParcel = Callable[..., Parcel]


class HandClock(Clock):
    """Stands still until it is moved."""

    def __init__(self) -> None:
        super().__init__()
        self.stamp = RAISED + 1

    def now(self) -> Moment:
        return Moment(self.stamp - RAISED, self.stamp)


class Desk:
    """A running delivery and what it reports."""

    def __init__(self, box: Any, people: Sequence[Person], **changes: Any) -> None:
        self.box = box
        self.clock = HandClock()
        self.complaints: list[tuple[str, ...]] = []
        extra = {name: changes.pop(name) for name in ("minutes", "send", "count") if name in changes}
        options = Options(ZoneInfo("Europe/Lisbon"), **{"limit": 20.0, "look": 3600.0, **changes})
        self.delivery = Delivery(box, people, self.clock, options, self.complaints.append, **extra)

    async def later(self, seconds: float) -> None:
        """Move the clock and see a round settled."""
        self.clock.stamp += seconds
        self.delivery.nudge()
        await self.box.settled()


@contextlib.asynccontextmanager
async def running(desk: Desk) -> AsyncIterator[None]:
    task = asyncio.ensure_future(desk.delivery.run())
    try:
        yield
    finally:
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task


def lead(*urls: str, **changes: Any) -> Person:
    """The workshop lead, reached by routes named first, second …"""
    names = ("first", "second", "third")
    return Person("workshop lead", tuple(Route(name, url) for name, url in zip(names, urls, strict=False)), **changes)


def outcomes(box: Any) -> list[tuple[str, Outcome]]:
    return [(attempt.route, attempt.outcome) for attempt in box.attempts]


async def test_the_first_route_that_takes_it_ends_the_matter(box: Any, web: Any, mail: Any, parcel: MakeParcel) -> None:
    told = box.put(parcel())
    async with running(Desk(box, [lead(web.url, mail.url)])):
        await box.settled()
    assert box.delivered == [told.id]
    assert outcomes(box) == [("first", Outcome.DELIVERED)]
    assert web.bodies[0]["title"] == "■ HIGH doorway-1"
    assert mail.asked == 0


async def test_when_one_route_fails_the_next_carries_it_at_once(
    box: Any, web: Any, mail: Any, parcel: MakeParcel
) -> None:
    box.put(parcel())
    web.status = 500
    async with running(Desk(box, [lead(web.url, mail.url)])):
        await box.settled()
    assert outcomes(box) == [("first", Outcome.FAILED), ("second", Outcome.DELIVERED)]
    assert len(mail.mails) == 1


async def test_a_route_that_refuses_for_good_is_not_asked_again_for_the_same_message(
    box: Any, web: Any, mail: Any, parcel: MakeParcel
) -> None:
    """A mail server that is asked again and again after a 550 ends up blocking the school."""
    told = box.put(parcel())
    mail.answer, web.status = "550 5.1.1 no such mailbox", 500
    desk = Desk(box, [lead(mail.url, web.url)])
    async with running(desk):
        await box.settled()
        web.status = 200
        await desk.later(10)
    assert outcomes(box) == [
        ("first", Outcome.REFUSED),
        ("second", Outcome.FAILED),
        ("second", Outcome.DELIVERED),
    ]
    assert "550" in box.attempts[0].detail
    assert (mail.asked, box.delivered) == (1, [told.id])


async def test_failures_are_tried_again_after_growing_pauses(box: Any, parcel: MakeParcel) -> None:
    told = box.put(parcel())
    desk = Desk(box, [lead(CLOSED)])
    pauses = []
    async with running(desk):
        await box.settled()
        for pause in (10, 20, 40):
            pauses.append(box.next_try[told.id] - desk.clock.stamp)
            await desk.later(pause)
    assert pauses == [10, 20, 40]
    assert box.delivered == []


async def test_five_minutes_without_any_route_impair_the_watch_until_one_works(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    """Nobody would be told, and nobody would know that."""
    box.put(parcel())
    web.status = 500
    desk = Desk(box, [lead(web.url, CLOSED)])
    async with running(desk):
        await box.settled()
        await desk.later(100)
        assert desk.complaints == []
        await desk.later(200)
        ((complaint,),) = desk.complaints
        web.status = 200
        await desk.later(300)
        await asyncio.sleep(0)  # the loop looks once more
    assert complaint.startswith("no route takes messages to 'workshop lead' (first: HTTP 500; second: ")
    assert "since 09:31" in complaint
    assert "emberward test-alert 'workshop lead'" in complaint
    assert desk.complaints[-1] == ()


async def test_a_complaint_ripens_also_between_two_tries(box: Any, parcel: MakeParcel) -> None:
    box.put(parcel())
    desk = Desk(box, [lead(CLOSED)], look=0.02)
    async with running(desk):
        await box.settled()
        box.next_try = dict.fromkeys(box.next_try, RAISED + 9999)
        desk.clock.stamp = RAISED + 301
        while not desk.complaints:  # noqa: ASYNC110 - the report is a plain call
            await asyncio.sleep(0.01)
    assert len(desk.complaints) == 1


async def test_when_every_route_refuses_it_is_said_at_once_and_nothing_is_dropped(
    box: Any, mail: Any, parcel: MakeParcel
) -> None:
    told = box.put(parcel())
    mail.answer = "550 5.1.1 no such mailbox"
    desk = Desk(box, [lead(mail.url, "nosuch://way")])
    async with running(desk):
        await box.settled()
        await desk.later(300)
        await desk.later(300)
    assert mail.asked == 1
    assert list(box.parcels) == [told.id]
    ((complaint,),) = desk.complaints
    assert complaint.startswith("every route refuses messages to 'workshop lead' (first: mail server said 550")


async def test_a_new_message_is_tried_also_where_an_older_one_was_refused_and_carries_it(
    box: Any, mail: Any, parcel: MakeParcel
) -> None:
    """The mailbox was full yesterday. That must not silence today's alarm."""
    old = box.put(parcel(refused=frozenset({"first"}), attempts=1))
    new = box.put(parcel("job-stalled"))
    async with running(Desk(box, [lead(mail.url)])):
        await box.settled()
    assert box.delivered == [old.id, new.id]
    assert mail.mails[0]["Subject"].startswith("■ HIGH ")


@pytest.mark.parametrize(
    ("people", "lack"), [([], "who is not in the settings"), ([Person("workshop lead", ())], "who has no route")]
)
async def test_a_message_that_has_nowhere_to_go_is_kept_and_said(
    box: Any, parcel: MakeParcel, people: list[Person], lack: str
) -> None:
    told = box.put(parcel())
    desk = Desk(box, people)
    async with running(desk):
        await box.settled()
    assert list(box.parcels) == [told.id]
    assert lack in desk.complaints[0][0]


async def test_what_waits_for_one_person_goes_as_one_message(box: Any, web: Any, parcel: MakeParcel) -> None:
    box.put(parcel("silent", priority=Priority.LOW))
    box.put(parcel())
    box.put(parcel("silent", kind=TellKind.ALL_CLEAR, priority=Priority.LOW, at=RAISED + 1))
    async with running(Desk(box, [lead(web.url)])):
        await box.settled()
    assert len(web.bodies) == 1
    assert web.bodies[0]["title"] == "■ HIGH 2 messages"
    assert "Over before you were told: doorway-1: machine does not answer" in web.bodies[0]["message"]
    assert sorted(box.delivered) == [1, 2, 3]


async def test_a_new_message_takes_along_what_still_waits_for_its_next_try(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    old = box.put(parcel(attempts=9))
    box.next_try[old.id] = RAISED + 250
    new = box.put(parcel("job-stalled"))
    async with running(Desk(box, [lead(web.url)])):
        await box.settled()
    assert box.delivered == [old.id, new.id]
    assert len(web.bodies) == 1


async def test_one_person_s_silent_server_does_not_hold_up_another_person(
    box: Any, web: Any, silent_port: int, parcel: MakeParcel
) -> None:
    slow = Person("duty warden", (Route("desk", f"json://127.0.0.1:{silent_port}/?rto=60"),))
    box.put(parcel(person="duty warden"))
    quick = box.put(parcel())
    async with running(Desk(box, [slow, lead(web.url)], limit=60.0)):
        await box.settled()
    assert box.delivered == [quick.id]
    assert len(box.parcels) == 1  # stopped meanwhile: it stays for the next start


async def test_a_nudge_wakes_the_delivery(box: Any, web: Any, parcel: MakeParcel) -> None:
    desk = Desk(box, [lead(web.url)])
    async with running(desk):
        await asyncio.sleep(0)
        box.put(parcel())
        desk.delivery.nudge()
        await box.settled()
    assert box.delivered == [1]


class Counting:
    """The real sender, counted as soon as it is asked."""

    def __init__(self) -> None:
        self.asked = 0

    async def __call__(self, routes: Sequence[Route], words: Words, limit: float) -> tuple[Result, ...]:
        self.asked += 1
        return await send(routes, words, limit)


async def looked() -> None:
    """Let the delivery come to rest after a look."""
    for _ in range(50):
        await asyncio.sleep(0)


async def test_a_full_disk_after_sending_does_not_send_again_and_is_made_good(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    """Else a phone would ring every two seconds for as long as the disk is full."""
    told = box.put(parcel())
    box.broken = True
    sender = Counting()
    desk = Desk(box, [lead(web.url)], send=sender)
    async with running(desk):
        await box.settled()
        for pause in (60, 600):
            await desk.later(pause)
            await looked()
        box.broken = False
        await desk.later(1)
        await looked()
    assert sender.asked == 1
    assert box.delivered == [told.id]
    assert outcomes(box) == [("first", Outcome.DELIVERED)]


async def test_a_full_disk_after_a_failure_keeps_the_pause_and_the_message(box: Any, parcel: MakeParcel) -> None:
    box.put(parcel())
    box.broken = True
    sender = Counting()
    desk = Desk(box, [lead(CLOSED)], send=sender)
    async with running(desk):
        await box.settled()
        box.put(parcel("job-stalled", person="duty warden"))  # its pause is not the workshop lead's
        await desk.later(5)
        await looked()
        assert sender.asked == 1
        await desk.later(5.5)
        await looked()
        assert sender.asked == 2


async def test_a_parcel_that_the_record_has_lost_does_not_keep_the_others_from_being_marked(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    """After damage the record is begun anew while a message is on its way."""
    lost, kept = box.put(parcel()), box.put(parcel("job-stalled"))
    web.status = 0
    desk = Desk(box, [lead(web.url)], limit=4.0)
    async with running(desk):
        await web.asked.wait()
        del box.parcels[lost.id]
        await box.settled()
    assert {attempt.parcel for attempt in box.attempts} == {kept.id}
    assert list(box.parcels) == [kept.id]


async def test_an_outbox_that_cannot_be_read_is_looked_at_again(box: Any, web: Any, parcel: MakeParcel) -> None:
    box.put(parcel())
    answering, looks = box.due, 0

    async def due(stamp: float) -> Sequence[Parcel]:
        nonlocal looks
        looks += 1
        if looks < 3:
            raise sqlite3.OperationalError("disk I/O error")
        found: Sequence[Parcel] = await answering(stamp)
        return found

    box.due = due
    async with running(Desk(box, [lead(web.url)], look=0.01)):
        await box.settled()
    assert box.delivered == [1]


async def test_a_message_that_was_held_up_says_that_it_is_late(box: Any, web: Any, parcel: MakeParcel) -> None:
    box.put(parcel())
    desk = Desk(box, [lead(web.url)])
    desk.clock.stamp = RAISED + 600
    async with running(desk):
        await box.settled()
    assert "Late: raised 09:31; sent at 09:41." in web.bodies[0]["message"]


async def test_a_mail_shows_the_last_minutes_and_goes_out_without_them_when_they_cannot_be_had(
    box: Any, mail: Any, parcel: MakeParcel
) -> None:
    async def minutes(machine: str) -> Sequence[Minute]:
        if machine == "loft-1":
            raise sqlite3.OperationalError("locked")
        return [Minute(RAISED, 204.6, 205.0, None, 41.0)]

    desk = Desk(box, [lead(mail.url)], minutes=minutes)
    box.put(parcel())
    async with running(desk):
        await box.settled()
        box.put(parcel(machine="loft-1"))
        await desk.later(60)
    shown, plain = (got.get_body(("plain",)).get_content() for got in mail.mails)
    assert "204.6" in shown
    assert "loft-1" in plain
    assert "204.6" not in plain


async def test_at_most_four_people_are_served_at_once(box: Any, silent_port: int, parcel: MakeParcel) -> None:
    people = [
        Person(f"tutor {number}", (Route("push", f"json://127.0.0.1:{silent_port}/?rto=60"),)) for number in range(6)
    ]
    for person in people:
        box.put(parcel(person=person.name))
    sending, most = 0, 0

    async def counted(routes: Sequence[Route], words: Words, limit: float) -> tuple[Result, ...]:
        nonlocal sending, most
        sending += 1
        most = max(most, sending)
        await asyncio.sleep(0.01)
        sending -= 1
        return tuple(Result(route.name, Outcome.DELIVERED, "") for route in routes)

    clock = HandClock()
    delivery = Delivery(box, people, clock, Options(ZoneInfo("Europe/Lisbon")), lambda _: None, send=counted)
    task = asyncio.ensure_future(delivery.run())
    while len(box.delivered) < 6:
        await box.settled()
    task.cancel()
    assert most == 4


def urgent_and_not(box: Any, parcel: MakeParcel) -> None:
    box.put(parcel("silent", priority=Priority.LOW))
    box.put(parcel("silent-hot", priority=Priority.URGENT, occurrence=2))


async def test_a_loud_message_goes_by_all_routes_at_the_same_time(
    box: Any, web: Any, mail: Any, parcel: MakeParcel
) -> None:
    """Nobody has answered so far: one route alone may lie in a bag."""
    told = box.put(parcel(loud=True))
    async with running(Desk(box, [lead(web.url, mail.url, CLOSED)])):
        await box.settled()
    assert outcomes(box) == [
        ("first", Outcome.DELIVERED),
        ("second", Outcome.DELIVERED),
        ("third", Outcome.FAILED),
    ]
    assert box.delivered == [told.id]
    assert (len(web.bodies), len(mail.mails)) == (1, 1)


async def test_a_loud_message_that_no_route_took_is_tried_again(box: Any, mail: Any, parcel: MakeParcel) -> None:
    told = box.put(parcel(loud=True))
    mail.answer = "451 later"
    desk = Desk(box, [lead(CLOSED, mail.url)])
    async with running(desk):
        await box.settled()
        assert box.next_try[told.id] == desk.clock.stamp + 10
        mail.answer = "250 taken"
        await desk.later(10)
    assert box.delivered == [told.id]


async def test_what_follows_within_a_minute_waits_and_goes_as_one_message(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    """A phone that rings every ten seconds is put away."""
    box.put(parcel())
    desk = Desk(box, [lead(web.url)])
    async with running(desk):
        await box.settled()
        for second in range(1, 6):
            box.put(parcel("job-stalled", occurrence=second, at=RAISED + 10 * second))
            desk.clock.stamp = RAISED + 10 * second
            desk.delivery.nudge()
            await looked()
        assert len(web.bodies) == 1
        desk.clock.stamp = RAISED + 1
        await desk.later(60)
    assert len(web.bodies) == 2
    assert web.bodies[1]["title"] == "■ HIGH 5 messages"
    assert box.parcels == {}


async def test_an_urgent_message_neither_waits_nor_counts_and_takes_along_what_waits(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    box.put(parcel())
    desk = Desk(box, [lead(web.url)])
    async with running(desk):
        await box.settled()
        urgent_and_not(box, parcel)
        await desk.later(5)
        assert len(web.bodies) == 2
        assert web.bodies[1]["title"] == "▲ URGENT 2 messages"
        box.put(parcel("job-stalled"))
        await desk.later(55)  # 60 s after the first: the urgent one has not moved that
    assert len(web.bodies) == 3


async def test_that_an_urgent_alarm_is_over_can_wait_its_turn(box: Any, web: Any, parcel: MakeParcel) -> None:
    box.put(parcel())
    desk = Desk(box, [lead(web.url)])
    async with running(desk):
        await box.settled()
        box.put(parcel("silent-hot", kind=TellKind.ALL_CLEAR, priority=Priority.URGENT))
        desk.clock.stamp += 30
        desk.delivery.nudge()
        await looked()
        assert len(web.bodies) == 1
        await desk.later(30)
    assert len(web.bodies) == 2


async def test_an_urgent_message_before_the_first_look_into_the_record_does_not_count_either(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    box.put(parcel("silent-hot", priority=Priority.URGENT))
    desk = Desk(box, [lead(web.url)])
    async with running(desk):
        await box.settled()
        box.told_before.append(("workshop lead", desk.clock.stamp))  # the record tells it like every other
        box.put(parcel("job-stalled"))
        await desk.later(1)
    assert len(web.bodies) == 2


async def test_after_a_restart_the_pauses_go_on_and_the_record_is_asked_once(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    box.told_before = [("workshop lead", RAISED - 100), ("workshop lead", RAISED - 10)]
    box.put(parcel())
    desk = Desk(box, [lead(web.url)])
    async with running(desk):
        for second in (1, 60, 109):
            desk.clock.stamp = RAISED + second
            desk.delivery.nudge()
            await looked()
        assert web.bodies == []
        desk.clock.stamp = RAISED + 109
        await desk.later(1)  # two within the hour: 120 s after the last
    assert len(web.bodies) == 1
    assert box.asked_who_was_told == 1


async def test_while_the_record_cannot_say_who_was_told_nobody_is_kept_waiting(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    async def told(person: str, since: float) -> Sequence[float]:
        raise OSError(5, "Input/output error")

    box.told = told
    box.put(parcel())
    async with running(Desk(box, [lead(web.url)])):
        await box.settled()
    assert len(web.bodies) == 1


async def test_each_attempt_is_counted_with_the_time_since_it_was_due(
    box: Any, web: Any, mail: Any, parcel: MakeParcel
) -> None:
    counted: list[tuple[Outcome, float | None]] = []
    web.status = 500
    box.put(parcel())
    box.put(parcel("silent", not_before=RAISED + 4))
    desk = Desk(box, [lead(web.url, mail.url)], count=lambda outcome, took: counted.append((outcome, took)))
    desk.clock.stamp = RAISED + 9
    async with running(desk):
        await box.settled()
    assert counted == [(Outcome.FAILED, None)] * 2 + [(Outcome.DELIVERED, 9.0), (Outcome.DELIVERED, 5.0)]


async def test_a_message_that_waited_for_the_break_is_not_called_late(box: Any, web: Any, parcel: MakeParcel) -> None:
    box.put(parcel("silent", priority=Priority.LOW, not_before=RAISED + 3000))
    desk = Desk(box, [lead(web.url)])
    desk.clock.stamp = RAISED + 3001
    async with running(desk):
        await box.settled()
    assert "Late" not in web.bodies[0]["message"]


async def test_waiting_for_its_time_is_no_complaint_about_the_routes(box: Any, parcel: MakeParcel) -> None:
    """A first failed try is one failed try, however long the message has waited for the break."""
    box.put(parcel("silent", not_before=RAISED + 3000))
    desk = Desk(box, [lead(CLOSED)])
    desk.clock.stamp = RAISED + 3001
    async with running(desk):
        await box.settled()
        await looked()
        assert desk.complaints == []
        await desk.later(300)
        await looked()
    ((complaint,),) = desk.complaints
    assert "since 10:21" in complaint
