"""What waits for a broker that is away: the newest state, every alarm, and never more than there is room for."""

from watchdog.broker.waiting import Kind, Said, Waiting


def state(machine: str, number: int) -> Said:
    return Said(f"{machine}/state", str(number).encode(), True, Kind.STATE)


def event(number: int, kind: Kind = Kind.ALARM) -> Said:
    return Said("doorway-1/event", str(number).encode(), False, kind)


def taken(waiting: Waiting) -> list[Said]:
    """Everything, in the order in which it would be said."""
    found = []
    while (ticket := waiting.first()) is not None:
        found.append(ticket.said)
        waiting.done(ticket)
    return found


def test_of_a_state_the_newest_waits_and_of_events_each() -> None:
    waiting = Waiting(10)
    for said in (state("doorway-1", 1), event(1), state("loft-1", 1), state("doorway-1", 2), event(2)):
        waiting.put(said)
    assert taken(waiting) == [state("doorway-1", 2), event(1), state("loft-1", 1), event(2)]
    assert not waiting.dropped


def test_when_the_room_is_full_states_and_news_go_before_any_alarm() -> None:
    """A broker that is away for a weekend must not cost the alarm of Friday evening."""
    waiting = Waiting(4)
    waiting.put(event(1))
    for number in range(20):
        waiting.put(state(f"m-{number}", number))
        waiting.put(event(number, Kind.NEWS))
    for number in (2, 3, 4):
        waiting.put(event(number))
    assert taken(waiting) == [event(1), event(2), event(3), event(4)]
    assert waiting.dropped == {Kind.STATE: 20, Kind.NEWS: 20}


def test_of_too_many_alarms_the_oldest_go_and_are_counted() -> None:
    waiting = Waiting(3)
    for number in range(5):
        waiting.put(event(number))
    assert taken(waiting) == [event(2), event(3), event(4)]
    assert waiting.dropped == {Kind.ALARM: 2}


def test_a_newer_state_stays_when_the_older_one_has_just_been_said() -> None:
    waiting = Waiting(3)
    waiting.put(state("doorway-1", 1))
    on_its_way = waiting.first()
    assert on_its_way is not None
    waiting.put(state("doorway-1", 2))
    waiting.done(on_its_way)
    assert taken(waiting) == [state("doorway-1", 2)]


def test_a_state_that_keeps_changing_keeps_its_place() -> None:
    """Else a slow broker would hear of the machines at the end of the row alone."""
    waiting = Waiting(10)
    waiting.put(state("doorway-1", 1))
    waiting.put(state("loft-1", 1))
    waiting.put(state("doorway-1", 2))
    first = waiting.first()
    assert first is not None
    assert first.said == state("doorway-1", 2)


def test_a_broker_that_has_forgotten_everything_is_told_everything_that_is_retained() -> None:
    waiting = Waiting(10)
    cleared = Said("doorway-1/alarm/hot-idle", b"", True, Kind.ALARM)
    standing = Said("doorway-1/alarm/silent", b"{}", True, Kind.ALARM)
    for said in (state("doorway-1", 1), event(1), cleared._replace(payload=b"{}"), standing, cleared):
        waiting.put(said)
    assert taken(waiting) == [state("doorway-1", 1), event(1), cleared, standing]
    waiting.put(event(2))
    waiting.anew()
    assert set(taken(waiting)) == {event(2), state("doorway-1", 1), standing}


def test_what_is_said_anew_does_not_replace_what_is_newer() -> None:
    waiting = Waiting(10)
    waiting.put(state("doorway-1", 1))
    taken(waiting)
    waiting.put(state("doorway-1", 2))
    waiting.anew()
    assert taken(waiting) == [state("doorway-1", 2)]
