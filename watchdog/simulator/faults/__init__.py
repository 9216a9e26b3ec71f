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
    frozen_extruding,
    frozen_hot,
    halt,
    heater_open,
    heater_weak,
    hot_after_job,
    hot_after_load,
    job_not_started,
    noise,
    nozzle_jam,
    paused_forgotten,
    port_reset,
    preheat_forgotten,
    restart,
    run_out_told,
    run_out_unseen,
    runaway,
    sensor_drifting,
    sensor_loose,
    sensor_open,
    sensor_short,
    sensor_slipping,
    slow,
    stall,
    tangle,
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
            frozen_extruding.FAULT,
            frozen_hot.FAULT,
            halt.FAULT,
            heater_open.FAULT,
            heater_weak.FAULT,
            hot_after_job.FAULT,
            hot_after_load.FAULT,
            job_not_started.FAULT,
            noise.FAULT,
            nozzle_jam.FAULT,
            paused_forgotten.FAULT,
            port_reset.FAULT,
            preheat_forgotten.FAULT,
            restart.FAULT,
            run_out_told.FAULT,
            run_out_unseen.FAULT,
            runaway.FAULT,
            sensor_drifting.FAULT,
            sensor_loose.FAULT,
            sensor_open.FAULT,
            sensor_short.FAULT,
            sensor_slipping.FAULT,
            slow.FAULT,
            stall.FAULT,
            tangle.FAULT,
        )
    }
)
"""every fault by its name"""
