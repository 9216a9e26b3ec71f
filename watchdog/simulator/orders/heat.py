"""M104 M109 M140 M190 M106 M107 M105 M155: heat and its reports."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from watchdog.simulator.gcode import Order
from watchdog.simulator.heater import Heater
from watchdog.simulator.orders.kinds import Handler
from watchdog.simulator.waits import For, Wait

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller


def _set(controller: Controller, heater: Heater, order: Order) -> None:
    """Take the target from S or R; without either nothing changes."""
    target = order.number("S")
    if target is None:
        target = order.number("R")
    if target is not None:
        heater.target = 0.0 if controller.dry_run else max(0.0, target)


def nozzle(controller: Controller, order: Order) -> None:
    _set(controller, controller.nozzle, order)


def bed(controller: Controller, order: Order) -> None:
    _set(controller, controller.bed, order)


def nozzle_wait(controller: Controller, order: Order) -> Iterator[Wait]:
    _set(controller, controller.nozzle, order)
    yield Wait(For.HEAT, heater="nozzle", cooling_too="R" in order.words)


def bed_wait(controller: Controller, order: Order) -> Iterator[Wait]:
    _set(controller, controller.bed, order)
    yield Wait(For.HEAT, heater="bed", cooling_too="R" in order.words)


def fan(controller: Controller, order: Order) -> None:
    speed = order.number("S")
    controller.fan = min(1.0, max(0.0, (255.0 if speed is None else speed) / 255))


def fan_off(controller: Controller, order: Order) -> None:
    controller.fan = 0.0


def temperatures(controller: Controller, order: Order) -> None:
    controller.answer(controller.voice.heats(controller.heats()))


def report(controller: Controller, order: Order) -> None:
    if not controller.voice.reports_itself:
        controller.say(controller.voice.unknown(order.whole))
        return
    every = order.number("S")
    if every is not None:
        controller.chatter.report(min(60.0, max(0.0, every)))


HANDLERS: dict[str, Handler] = {
    "M104": nozzle,
    "M109": nozzle_wait,
    "M140": bed,
    "M190": bed_wait,
    "M106": fan,
    "M107": fan_off,
    "M105": temperatures,
    "M155": report,
}
