"""M0 M1 M108 M117 M118 M600 and the panel's load: what concerns a person."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from watchdog.simulator.gcode import Order, read_order
from watchdog.simulator.orders.kinds import Handler, nothing
from watchdog.simulator.waits import MOTION, PERSON, For, Wait

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller

LOAD = Order("load", {}, "", "load")
"""the panel's order to load filament; S °C"""


def stop_for_person(controller: Controller, order: Order) -> Iterator[Wait]:
    yield MOTION
    timed = read_order("G4 " + order.text)
    seconds = 0.0
    if timed is not None and order.text[:1] in ("S", "P"):
        seconds = (timed.number("S") or 0.0) + (timed.number("P") or 0.0) / 1000
    elif order.text:
        controller.say(f"echo:{order.text}")
    yield Wait(For.PERSON, until=controller.now + seconds) if seconds else PERSON
    yield from _warm_again(controller)


def _warm_again(controller: Controller) -> Iterator[Wait]:
    """After a wait so long that the nozzle's output was held at zero."""
    if controller.nozzle.held:
        controller.nozzle.held = False
        yield Wait(For.HEAT, heater="nozzle")


def change_filament(controller: Controller, order: Order) -> Iterator[Wait]:
    """Park, wait for somebody; after a long wait the nozzle has cooled and is heated again first."""
    yield MOTION
    yield Wait(For.TIME, until=controller.now + 8)
    controller.say("echo:Insert filament and send M108")
    yield PERSON
    yield from _warm_again(controller)
    yield Wait(For.TIME, until=controller.now + 15)


def load(controller: Controller, order: Order) -> Iterator[Wait]:
    """Heat, feed, and leave it hot, as the panel's menu does."""
    controller.nozzle.target = order.number("S") or controller.nozzle.target
    yield Wait(For.HEAT, heater="nozzle")
    for feed in ("G1 E20 F300", "G1 E60 F300"):
        move = read_order(feed)
        if move is not None:
            controller.motion.place[3] = 0.0
            controller.slots.move(move)
    yield MOTION


def screen(controller: Controller, order: Order) -> None:
    if controller.voice.action_words:
        controller.say(f"//action:notification {order.text}", everywhere=True)


def echo(controller: Controller, order: Order) -> None:
    controller.say(order.text)


HANDLERS: dict[str, Handler] = {
    "M0": stop_for_person,
    "M1": stop_for_person,
    "M108": nothing,
    "M117": screen,
    "M118": echo,
    "M600": change_filament,
    "load": load,
}
