"""While the record cannot be written, messages that wait for a break wait in memory, by the same rules as in the outbox."""

from pathlib import Path

import pytest

from watchdog.clock import Clock
from watchdog.core.effects import AlarmChanged, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.batch import Batch
from watchdog.record.parcels import Attempt, Outcome
from watchdog.service.keeping import Keeping

T0 = Moment(500.0, 1_772_442_000.0)


def after(seconds: float) -> Moment:
    return Moment(T0.elapsed + seconds, T0.stamp + seconds)


TELL = Tell(T0, TellKind.ALARM, "job-late", 1, Priority.LOW, T0, 1, {}, None)
ORDER = Order(TELL, "workshop lead", T0.stamp + 900, True, "collected until the break")
RAISED = Batch("doorway-1", T0, (AlarmChanged(T0, "job-late", 1, Transition.RAISED, Priority.LOW, {}), TELL), (ORDER,))


def step(transition: Transition, seconds: float, machine: str = "doorway-1") -> Batch:
    change = AlarmChanged(after(seconds), "job-late", 1, transition, Priority.LOW, {})
    return Batch(machine, after(seconds), (change,))


@pytest.fixture
def keeping(tmp_path: Path) -> Keeping:
    """With a record that is not there yet: nothing can be written or read."""
    return Keeping(tmp_path / "incidents.db", Clock(), lambda sentence: None)


async def test_a_message_for_the_break_waits_in_memory_and_goes_out_by_its_order(keeping: Keeping) -> None:
    assert await keeping.commit(RAISED) is None
    assert await keeping.due(T0.stamp + 899) == ()
    (parcel,) = await keeping.due(T0.stamp + 900)
    assert (parcel.person, parcel.not_before, parcel.loud, parcel.why) == (ORDER.person, *ORDER[2:])


@pytest.mark.parametrize("transition", [Transition.ACKNOWLEDGED, Transition.CLEARED])
async def test_what_has_become_idle_is_taken_back_from_memory(keeping: Keeping, transition: Transition) -> None:
    await keeping.commit(RAISED)
    await keeping.commit(step(transition, 60, "loft-1"))
    await keeping.commit(step(Transition.RETURNED, 60))
    assert len(await keeping.due(T0.stamp + 900)) == 1
    await keeping.commit(step(transition, 60))
    assert await keeping.due(T0.stamp + 900) == ()


async def test_whose_time_has_come_or_who_was_tried_is_not_taken_back(keeping: Keeping) -> None:
    await keeping.commit(RAISED)
    (parcel,) = await keeping.due(T0.stamp + 900)
    await keeping.settle([Attempt(parcel.id, "phone", T0.stamp + 900, Outcome.FAILED, "")], {parcel.id: T0.stamp + 930})
    await keeping.commit(step(Transition.CLEARED, 60))  # by a wall clock that was set back
    assert len(await keeping.due(T0.stamp + 930)) == 1


async def test_who_was_told_from_memory_counts_for_the_pace(keeping: Keeping) -> None:
    """Else a person would get a message a second while the disk is full."""
    await keeping.commit(RAISED)
    (parcel,) = await keeping.due(T0.stamp + 900)
    taken = Attempt(parcel.id, "phone", T0.stamp + 901, Outcome.DELIVERED, "")
    await keeping.settle([taken], {}, [parcel.id])
    assert await keeping.told("workshop lead", T0.stamp) == (T0.stamp + 901,)
    assert await keeping.told("workshop lead", T0.stamp + 902) == ()
    assert await keeping.told("duty warden", T0.stamp) == ()
    await keeping.open()
    await keeping.retry()
    await keeping.commit(step(Transition.RETURNED, 1_000))
    assert keeping.waiting == 0
    assert await keeping.told("workshop lead", T0.stamp) == (T0.stamp + 901,)
    assert await keeping.due(T0.stamp + 2_000) == ()
    await keeping.close()
