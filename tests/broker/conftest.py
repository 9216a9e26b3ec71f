"""A broker's other clients: somebody who reads everything, and somebody who writes."""

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from typing import Any

import aiomqtt
import pytest

PATIENCE = 30.0  # real s after which a test gives up waiting for something

Listening = Callable[..., Any]


class Ear:
    """What another client has heard: (topic, payload, retained), in order."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, bytes, bool]] = []

    def on(self, topic: str) -> list[bytes]:
        """The payloads on one topic."""
        return [payload for where, payload, _ in self.heard if where == topic]


@pytest.fixture
def listening() -> Listening:
    """`async with listening(port) as ear`: an `Ear` on every topic; `**more` as aiomqtt's client takes it."""

    @asynccontextmanager
    async def listen(port: int, topic: str = "#", **more: Any) -> AsyncIterator[Ear]:
        ear = Ear()
        async with aiomqtt.Client("127.0.0.1", port, **more) as client, asyncio.TaskGroup() as tasks:
            await client.subscribe(topic, qos=1)

            async def take() -> None:
                with suppress(aiomqtt.MqttError):  # its broker may be killed
                    async for message in client.messages:
                        assert isinstance(message.payload, bytes)
                        ear.heard.append((str(message.topic), message.payload, bool(message.retain)))

            task = tasks.create_task(take())
            yield ear
            task.cancel()

    return listen


@pytest.fixture
def until() -> Callable[..., Any]:
    """`await until("what", lambda: …)`: wait for something, or fail saying what."""

    async def wait(what: str, true: Callable[[], Any]) -> Any:
        deadline = time.monotonic() + PATIENCE
        while time.monotonic() < deadline:
            if found := true():
                return found
            await asyncio.sleep(0.02)
        raise AssertionError(f"waited {PATIENCE:.0f} s in vain for: {what}")

    return wait
