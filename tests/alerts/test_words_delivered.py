"""Each person's own language and links, from the outbox to the phone."""

import asyncio
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from watchdog.alerts.delivery import Delivery, Options
from watchdog.alerts.matters import Matter
from watchdog.alerts.routes import Person, Route
from watchdog.clock import Clock
from watchdog.core.effects import Priority
from watchdog.core.moment import Moment
from watchdog.record.parcels import Parcel

RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
MakeParcel = Callable[..., Parcel]


class HandClock(Clock):
    """Stands still."""

    def now(self) -> Moment:
        return Moment(1.0, RAISED + 1)


def link(person: str, matter: Matter) -> str:
    return f"http://x/{person[:4]}/{matter.tell.occurrence}"


async def delivered(box: Any, *people: Person, **links: Any) -> None:
    """Run until every one of `people` has theirs."""
    options = Options(ZoneInfo("Europe/Lisbon"), limit=20.0, look=3600.0)
    delivery = Delivery(box, people, HandClock(), options, lambda _: None, **links)
    task = asyncio.ensure_future(delivery.run())
    while box.parcels:
        await box.settled()
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task


async def test_two_people_are_told_of_one_alarm_each_in_their_language_and_with_their_own_link(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    lead = Person("workshop lead", (Route("push", web.url),))
    warden = Person("duty warden", (Route("push", web.url),), language="pt")
    for person in (lead, warden):
        box.put(parcel(person=person.name))
    await delivered(box, lead, warden, links=link)
    english, portuguese = sorted((body["message"] for body in web.bodies), reverse=True)
    assert english.startswith("Cool the nozzle or start the job. doorway-1: nozzle hot and idle since 09:31.")
    assert "To answer: tap http://x/work/1" in english
    assert portuguese.startswith(
        "Arrefeça o bico ou comece o trabalho. doorway-1: bico quente e parado, desde as 09:31."
    )
    assert "Para responder: toque em http://x/duty/1" in portuguese
    assert sorted(body["title"] for body in web.bodies) == ["■ ALTA doorway-1", "■ HIGH doorway-1"]


async def test_the_link_that_allows_a_job_to_outlast_the_hours_goes_along(
    box: Any, web: Any, parcel: MakeParcel
) -> None:
    box.put(parcel("outlasts-supervision", priority=Priority.LOW))
    lead = Person("workshop lead", (Route("push", web.url),))
    await delivered(box, lead, links=link, outlast_links=lambda person, _: f"http://x/{person[:4]}/allow")
    assert "allow the job: tap http://x/work/allow" in web.bodies[0]["message"]


async def test_a_brief_route_may_spend_a_second_part_on_the_link(box: Any, web: Any, parcel: MakeParcel) -> None:
    """The caretaker has no push: without the link the reminders could be ended at the computer alone."""
    box.put(parcel())
    long = "http://watch.example.org:8080/a/" + 88 * "x"
    caretaker = Person("workshop lead", (Route("sms", web.url, brief=True, two_parts=True),))
    await delivered(box, caretaker, links=lambda person, _: long)
    line = "HIGH: Cool the nozzle or start the job. doorway-1: nozzle hot and idle since 09:31."
    assert [body["message"] for body in web.bodies] == [f"{line} {long}"]


async def test_a_brief_route_gets_one_part_with_the_link_where_it_fits(box: Any, web: Any, parcel: MakeParcel) -> None:
    box.put(parcel())
    caretaker = Person("workshop lead", (Route("sms", web.url, brief=True),), language="pt")
    await delivered(box, caretaker, links=link)
    (body,) = web.bodies
    assert body["message"] == (
        "ALTA: Arrefeca o bico ou comece o trabalho. doorway-1: bico quente e parado, desde as 09:31. http://x/work/1"
    )
