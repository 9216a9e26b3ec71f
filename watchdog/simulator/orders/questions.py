"""M110–M115 M119 M503 M999: the controller about itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.gcode import Order
from watchdog.simulator.orders.kinds import Handler, nothing

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller


def firmware(controller: Controller, order: Order) -> None:
    voice = controller.voice
    controller.say(
        f"FIRMWARE_NAME:simulated controller, family {voice.family} PROTOCOL_VERSION:1.0 EXTRUDER_COUNT:1",
        *(f"Cap:{capability}" for capability in voice.capabilities),
    )


def position(controller: Controller, order: Order) -> None:
    x, y, z, e = controller.motion.place
    queue = controller.motion.planner.queue
    moving = queue[0].goal if queue else (x, y, z, e)
    counts = [round(place * steps) for place, steps in zip(moving, controller.motion.axes.steps, strict=True)]
    told = f"X:{x:.2f} Y:{y:.2f} Z:{z:.2f} E:{e:.2f} Count X:{counts[0]} Y:{counts[1]} Z:{counts[2]}"
    controller.say(told)


def busy_beat(controller: Controller, order: Order) -> None:
    every = order.number("S")
    if every is not None:
        controller.chatter.busy_every = min(60.0, max(0.0, every))


def endstops(controller: Controller, order: Order) -> None:
    controller.say("Reporting endstop status", "x_min: open", "y_min: open", "z_min: open")


def settings(controller: Controller, order: Order) -> None:
    axes = controller.motion.axes
    prefix = controller.voice.settings_prefix
    steps, speed, acceleration = axes.steps, axes.speed, axes.acceleration
    controller.say(
        f"{prefix}  M92 X{steps[0]:.2f} Y{steps[1]:.2f} Z{steps[2]:.2f} E{steps[3]:.2f}",
        f"{prefix}  M203 X{speed[0]:.2f} Y{speed[1]:.2f} Z{speed[2]:.2f} E{speed[3]:.2f}",
        f"{prefix}  M201 X{acceleration[0]:.2f} Y{acceleration[1]:.2f} Z{acceleration[2]:.2f} E{acceleration[3]:.2f}",
        f"{prefix}  M204 P{axes.extruding:.2f} R{axes.retracting:.2f} T{axes.travelling:.2f}",
        f"{prefix}  M205 J{controller.motion.planner.deviation:.3f}",
    )


def go_on(controller: Controller, order: Order) -> None:
    controller.refusing = False


HANDLERS: dict[str, Handler] = {
    "M110": nothing, "M111": nothing, "M112": nothing, "M113": busy_beat, "M114": position, "M115": firmware,
    "M119": endstops, "M503": settings, "M500": nothing, "M501": nothing, "M999": go_on,
}  # fmt: skip
