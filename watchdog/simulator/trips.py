"""What the controller does when a guard trips or somebody stops everything."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.heater import Heater
from watchdog.simulator.states import State

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller

DYING = 2.0
"""s from the first words of a halt to the last; beeps and parking take it. Common practice, no source"""


def trip(controller: Controller, verdict: str, heater: Heater) -> None:
    """A guard's verdict about one heater."""
    voice = controller.voice
    words, screen = voice.verdict(verdict, heater.name)
    how = voice.sensor_trip if verdict in ("too-cold", "too-hot") else voice.heat_trip
    _heat_off(controller)
    if how == "stop" and controller.refusing:
        return  # said already
    controller.say(*words, everywhere=True)
    if how == "dry-run":
        controller.dry_run = True
    elif how == "stop":
        controller.job.drop()
        controller.refusing = True
        controller.say(*voice.refused(), everywhere=True)
    elif how == "lock":
        _lock(controller)
    else:
        _halt(controller, screen)


def kill(controller: Controller, screen: str, *words: str) -> None:
    """Everything stops at once: button, M112."""
    controller.say(*words, everywhere=True)
    _heat_off(controller)
    if controller.voice.heat_trip == "lock":
        _lock(controller)
    else:
        _halt(controller, screen)


def finish_halt(controller: Controller) -> None:
    """The last words; then nothing more, or a reset where the family does that."""
    controller.say(*controller.voice.killed(controller.screen), everywhere=True)
    controller.state = State.HALTED
    if controller.voice.reset_after_halt:
        controller.reset("software")


def _heat_off(controller: Controller) -> None:
    controller.nozzle.off()
    controller.bed.off()


def _lock(controller: Controller) -> None:
    _drop_all(controller)
    controller.say(*controller.voice.refused(), everywhere=True)
    controller.state = State.LOCKED


def _halt(controller: Controller, screen: str) -> None:
    _drop_all(controller)
    controller.screen = screen
    controller.state = State.HALTING
    controller.due_at = controller.now + DYING


def _drop_all(controller: Controller) -> None:
    controller.job.drop()
    controller.slots.clear()
