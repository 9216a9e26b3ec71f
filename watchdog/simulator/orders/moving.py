"""G2 G3 G4 G28 G29 G90 G91 G92 M82 M83 M84 M400 M201 M203 M204 M220 M221: everything that moves, but G0 and G1."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from watchdog.simulator.gcode import Order
from watchdog.simulator.motion import AXES
from watchdog.simulator.orders.kinds import Handler, nothing
from watchdog.simulator.waits import MOTION, For, Wait

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller


def _arc(controller: Controller, order: Order, *, clockwise: bool) -> Iterator[Wait]:
    if controller.refusing:
        controller.say(*controller.voice.refused())
        return
    while controller.motion.planner.full:
        yield Wait(For.TIME, until=controller.motion.planner.end)
    block = controller.motion.arc(order, clockwise=clockwise, extrude=True)
    if block is None:
        controller.say("Error:G2/G3 bad parameters")
    else:
        controller.motion.planner.add(block)


def clockwise(controller: Controller, order: Order) -> Iterator[Wait]:
    return _arc(controller, order, clockwise=True)


def counter_clockwise(controller: Controller, order: Order) -> Iterator[Wait]:
    return _arc(controller, order, clockwise=False)


def dwell(controller: Controller, order: Order) -> Iterator[Wait]:
    yield MOTION
    seconds = (order.number("S") or 0.0) + (order.number("P") or 0.0) / 1000
    yield Wait(For.TIME, until=controller.now + seconds)


def home(controller: Controller, order: Order) -> Iterator[Wait]:
    yield MOTION
    named = [axis for axis in "XYZ" if axis in order.words] or ["X", "Y", "Z"]
    yield Wait(For.TIME, until=controller.now + controller.homing * len(named) / 3)
    for axis in named:
        controller.motion.place[AXES.index(axis)] = 0.0
    controller.motion.homed = len(named) == 3 or controller.motion.homed


def probe(controller: Controller, order: Order) -> Iterator[Wait]:
    yield MOTION
    yield Wait(For.TIME, until=controller.now + controller.probing)


def drain(controller: Controller, order: Order) -> Iterator[Wait]:
    yield MOTION


def absolute(controller: Controller, order: Order) -> None:
    controller.motion.relative = controller.motion.relative_e = False


def relative(controller: Controller, order: Order) -> None:
    controller.motion.relative = controller.motion.relative_e = True


def absolute_e(controller: Controller, order: Order) -> None:
    controller.motion.relative_e = False


def relative_e(controller: Controller, order: Order) -> None:
    controller.motion.relative_e = True


def rename(controller: Controller, order: Order) -> None:
    for axis, letter in enumerate(AXES):
        value = order.number(letter)
        if value is not None:
            controller.motion.place[axis] = value * controller.motion.scale


def inches(controller: Controller, order: Order) -> None:
    controller.motion.scale = 25.4


def millimetres(controller: Controller, order: Order) -> None:
    controller.motion.scale = 1.0


def accelerations(controller: Controller, order: Order) -> None:
    axes = controller.motion.axes
    both = order.number("S")
    axes.extruding = order.number("P") or both or axes.extruding
    axes.travelling = order.number("T") or both or axes.travelling
    axes.retracting = order.number("R") or axes.retracting


def axis_accelerations(controller: Controller, order: Order) -> None:
    most = controller.motion.axes.acceleration
    most[:] = [order.number(letter) or old for letter, old in zip(AXES, most, strict=True)]


def axis_speeds(controller: Controller, order: Order) -> None:
    most = controller.motion.axes.speed
    most[:] = [order.number(letter) or old for letter, old in zip(AXES, most, strict=True)]


def speed(controller: Controller, order: Order) -> None:
    asked = order.number("S")
    if asked is not None and asked > 0:
        controller.motion.speed_percent = asked
        if controller.voice.tells_overrides:
            controller.say(f"SpeedMultiply:{asked:.0f}")
    elif not order.words:
        controller.say(f"FR:{controller.motion.speed_percent:.0f}%")


def flow(controller: Controller, order: Order) -> None:
    asked = order.number("S")
    if asked is not None and asked > 0:
        controller.motion.flow_percent = asked
        if controller.voice.tells_overrides:
            controller.say(f"FlowMultiply:{asked:.0f}")
    elif not order.words:
        controller.say(f"echo:E0 Flow: {controller.motion.flow_percent:.0f}%")


HANDLERS: dict[str, Handler] = {
    "G2": clockwise, "G3": counter_clockwise, "G4": dwell, "G28": home, "G29": probe, "M400": drain,
    "G90": absolute, "G91": relative, "M82": absolute_e, "M83": relative_e, "G92": rename,
    "G20": inches, "G21": millimetres, "M201": axis_accelerations, "M203": axis_speeds, "M204": accelerations,
    "M205": nothing, "M220": speed, "M221": flow, "M17": nothing, "M18": drain, "M84": drain,
    "M92": nothing, "M900": nothing, "M300": nothing,
}  # fmt: skip
