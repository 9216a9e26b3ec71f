"""What can go wrong with the simulated machine, one fault a file. Each changes what lies underneath; none scripts output."""

from collections.abc import Mapping
from types import MappingProxyType

from watchdog.simulator.faults import (
    cable_pulled,
    card_error,
    card_pulled,
    counter_back,
    fan_on_block,
    filament_change_waits,
    frozen_hot,
    halt,
    heater_open,
    heater_weak,
    hot_after_job,
    hot_after_load,
    job_not_started,
    noise,
    paused_forgotten,
    preheat_forgotten,
    restart,
    runaway,
    sensor_loose,
    sensor_open,
    sensor_short,
    slow,
    stall,
)
from watchdog.simulator.faults.kinds import Fault

FAULTS: Mapping[str, Fault] = MappingProxyType(
    {
        fault.name: fault
        for fault in (
            cable_pulled.FAULT,
            card_error.FAULT,
            card_pulled.FAULT,
            counter_back.FAULT,
            fan_on_block.FAULT,
            filament_change_waits.FAULT,
            frozen_hot.FAULT,
            halt.FAULT,
            heater_open.FAULT,
            heater_weak.FAULT,
            hot_after_job.FAULT,
            hot_after_load.FAULT,
            job_not_started.FAULT,
            noise.FAULT,
            paused_forgotten.FAULT,
            preheat_forgotten.FAULT,
            restart.FAULT,
            runaway.FAULT,
            sensor_loose.FAULT,
            sensor_open.FAULT,
            sensor_short.FAULT,
            slow.FAULT,
            stall.FAULT,
        )
    }
)
"""every fault by its name"""
