"""Traffic in messages: lines keep their distance, breaks are told, and what is old or too long is no line."""

import asyncio
from collections.abc import Callable
from contextlib import suppress

from watchdog.clock import Clock
from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.sources.topic_lines import TopicSource

Heard = tuple[Moment, Direction, str]
NOON = 1_772_452_800.0


class Hands(Clock):
    """A clock that is moved by hand."""

    def __init__(self) -> None:
        super().__init__()
        self.at = Moment(100.0, NOON)

    def now(self) -> Moment:
        return self.at

    def go(self, seconds: float) -> None:
        self.at = Moment(self.at.elapsed + seconds, self.at.stamp + seconds)


class Topic:
    """The broker's side of one subscription."""

    def __init__(self) -> None:
        self.say: Callable[[str, bytes, bool], None]
        self.stands: Callable[[str | None], None]

    def subscribe(
        self, topic: str, heard: Callable[[str, bytes, bool], None], stands: Callable[[str | None], None]
    ) -> None:
        self.topic, self.say, self.stands = topic, heard, stands


def listening() -> tuple[TopicSource, Topic, Hands, list[Heard]]:
    heard: list[Heard] = []
    topic, clock = Topic(), Hands()
    source = TopicSource(
        "t", clock, lambda *line: heard.append(line), topic.subscribe, not_before=90.0, say=lambda sentence: None
    )
    return source, topic, clock, heard


def test_a_bare_line_was_received_now_and_a_recorded_one_says_who_spoke() -> None:
    _, topic, clock, heard = listening()
    topic.say("t", b"ok T:24.1 /0.0\r\n\r\n2026-03-02T09:14:07.412Z > M105\n\xff", False)
    assert [line[1:] for line in heard] == [
        (Direction.RECEIVED, "ok T:24.1 /0.0"),
        (Direction.SENT, "M105"),
        (Direction.RECEIVED, "\\xff"),
    ]
    assert {line[0] for line in heard} == {clock.at}


def test_lines_that_were_held_back_keep_their_distance() -> None:
    """Else a heater's slow rise would look like a leap."""
    _, topic, clock, heard = listening()
    topic.say("t", b"2026-03-02T09:14:00.000Z < T:100", False)
    clock.go(30)
    topic.say("t", b"".join(b"2026-03-02T09:14:%02d.000Z < T:%d\n" % (s, 100 + s) for s in (10, 20, 30)), False)
    assert [at.elapsed for at, _, _ in heard] == [100.0, 110.0, 120.0, 130.0]
    assert [at.stamp - NOON for at, _, _ in heard] == [0.0, 10.0, 20.0, 30.0]


def test_a_clock_that_was_set_at_the_other_end_changes_nothing_for_long() -> None:
    _, topic, clock, heard = listening()
    for told in (b"14:00", b"50:10", b"15:20", b"15:30"):
        topic.say("t", b"2026-03-02T09:%s.000Z < ok" % told, False)
        clock.go(10)
    assert [at.elapsed for at, _, _ in heard] == [100.0, 110.0, 120.0, 130.0]


def test_a_break_of_the_subscription_is_a_break_of_the_link() -> None:
    source, topic, clock, heard = listening()
    topic.stands("MQTT: the broker is away.")
    assert not source.is_open
    topic.stands(None)
    topic.stands(None)
    clock.go(1)
    topic.stands("MQTT: the broker is away.")
    topic.stands("MQTT: the broker is away.")
    assert [text for _, _, text in heard] == [
        "link closed: MQTT: the broker is away.",
        "link opened",
        "link closed: MQTT: the broker is away.",
    ]
    assert source.trouble == "MQTT: the broker is away."


def test_what_the_broker_kept_and_what_no_machine_would_say_is_no_line() -> None:
    """A kept message is of unknown age: it would show a cold machine as hot, or the other way round."""
    source, topic, _, heard = listening()
    topic.say("t", b"ok T:205.0 /205.0", True)
    topic.say("t", b"x" * 60_000, False)
    assert heard == []
    assert source.ignored == 2


async def test_the_watch_s_own_beginning_and_end_are_told() -> None:
    source, topic, _, heard = listening()
    with suppress(asyncio.CancelledError):
        async with asyncio.TaskGroup() as tasks:
            task = tasks.create_task(source.run())
            await asyncio.sleep(0)
            topic.stands(None)
            task.cancel()
    assert [text for _, _, text in heard] == ["watch started", "link opened", "link closed", "watch stopped"]
