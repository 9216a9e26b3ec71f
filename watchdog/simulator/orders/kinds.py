"""The shape of an order's handler."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from watchdog.simulator.gcode import Order
from watchdog.simulator.waits import Wait

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller

Handler = Callable[["Controller", Order], Iterator[Wait] | None]


def nothing(controller: Controller, order: Order) -> None:
    """Taken, and without effect here."""
