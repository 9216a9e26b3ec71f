"""Faults, waits and words to the host."""

import pytest

from watchdog.core.observations import Action, CardPresent, Fault, FaultKind, Observation, Remark, Waiting
from watchdog.core.traffic import Direction
from watchdog.dialect import read

K = FaultKind
FAULTS: list[tuple[str, FaultKind, str | None, bool]] = [
    ("Error:Thermal Runaway, system stopped! Heater_ID: E0", K.RUNAWAY, "nozzle", True),
    ("Error:Thermal Runaway, system stopped! Heater_ID: 0", K.RUNAWAY, "nozzle", True),
    ("Error:Thermal Runaway, system stopped! Heater_ID: bed (temp: 171.3)", K.RUNAWAY, "bed", True),
    ("Error:Thermal Runaway, system stopped! Heater_ID: chamber", K.RUNAWAY, "chamber", True),
    ("HOTEND THERMAL RUNAWAY", K.RUNAWAY, "nozzle", False),
    ("HEATBED THERMAL RUNAWAY", K.RUNAWAY, "bed", False),
    ("THERMAL ANOMALY", K.RUNAWAY, None, False),
    ("ERROR: Temperature runaway on T (delta temp 31.2), HALT asserted", K.RUNAWAY, "nozzle", True),
    ("ERROR: Temperature runaway on B (delta temp 31.2), HALT asserted", K.RUNAWAY, "bed", True),
    ("Heater 1 fault: temperature excursion of 16.2°C", K.RUNAWAY, None, False),
    ("Heater 1 fault: temperature excursion of 16.2\\xb0C", K.RUNAWAY, None, False),
    ("Error:Could not hold temperature 205 on extruder 0", K.RUNAWAY, "nozzle", False),
    ("!! heater 0 or its temp sensor broken - temp is 12, target 205", K.RUNAWAY, None, False),
    ("Error:Heating failed, system stopped! Heater_ID: bed", K.HEATING_FAILED, "bed", True),
    ("THERMAL RUNAWAY (PREHEAT HOTEND)", K.HEATING_FAILED, "nozzle", True),
    ("THERMAL RUNAWAY (PREHEAT HEATBED)", K.HEATING_FAILED, "bed", True),
    ("ERROR: Temperature took too long to be reached on T, HALT asserted", K.HEATING_FAILED, "nozzle", True),
    ("Error:Heater decoupled during rising", K.HEATING_FAILED, None, False),
    ("Error:Temp. raised to slow. Rising = 0.4", K.HEATING_FAILED, None, False),
    ("Error:One heater seems decoupled from thermistor", K.HEATING_FAILED, None, False),
    ("Error:Thermal Malfunction, system stopped! Heater_ID: E0", K.HEAT_MODEL, "nozzle", True),
    ("TM: error |12.31|>8.00", K.HEAT_MODEL, None, False),
    ("Error:MINTEMP triggered, system stopped! Heater_ID: bed", K.SENSOR_LOW, "bed", True),
    ("Error:MAXTEMP triggered, system stopped! Heater_ID: E1", K.SENSOR_HIGH, "nozzle", True),
    ("Error:0: Heaters switched off. MINTEMP triggered!", K.SENSOR_LOW, "nozzle", False),
    ("Error:Heaters switched off. MAXTEMP BED triggered!", K.SENSOR_HIGH, "bed", False),
    ("ERROR: MINTEMP or MAXTEMP triggered on T. Check your temperature sensors!", K.SENSOR, "nozzle", True),
    ("ERROR: Temperature reading is unreliable on T, HALT asserted", K.SENSOR, "nozzle", True),
    ("Disabling all heaters due to detected sensor defect.", K.SENSOR, None, False),
    ("Error:extruder 0: temp sensor defect", K.SENSOR, "nozzle", False),
    ("Error:heated bed: temp sensor defect", K.SENSOR, "bed", False),
    ("Error:extruder 0: temp sensor marked decoupled", K.SENSOR, "nozzle", False),
    ("Error:Temperature difference between temp sensors is too high", K.SENSOR, None, True),
    ("Error:Printer halted. kill() called!", K.HALT, None, True),
    ("\\xff\\x80Error:Printer halted. kill() called!", K.HALT, None, True),
    ("M112 Shutdown", K.HALT, None, True),
    ("echo:M112 called. Emergency Stop.", K.HALT, None, True),
    ("Emergency Stop! Reset the controller to continue.", K.HALT, None, True),
    ("!! KILL caused by KILL button/pin", K.HALT, None, True),
    ("!! KILL caused by too much inactive time - current command: G1 X4", K.HALT, None, True),
    ("ALARM: Kill button pressed", K.HALT, None, True),
    ("HALTED, M999 or $X to exit HALT state", K.HALT, None, True),
    ("!!", K.HALT, None, True),
    ("Error:Printer stopped due to errors. Fix the error and use M999 to restart.", K.STOPPED, None, False),
    ("Error:Printer stopped due to errors. Supervision required.", K.STOPPED, None, False),
    ("Error:Homing Failed", K.HOMING, None, False),
    ("ERROR: Homing cycle failed - check the max_travel settings", K.HOMING, None, False),
    ("echo:endstops hit: X:12.30", K.HOMING, None, False),
    ("Error:Probing Failed", K.PROBING, None, False),
    ("Z Probe Past Bed", K.PROBING, None, False),
    ("Bed leveling failed", K.PROBING, None, False),
    ("echo: cold extrusion prevented", K.COLD_EXTRUSION, None, False),
    ("echo: too long extrusion prevented", K.COLD_EXTRUSION, None, False),
    ("Hotend too cold", K.COLD_EXTRUSION, None, False),
    ("Error:SD read error", K.CARD_READ, None, False),
    ("error writing to file", K.CARD_READ, None, False),
    ("Error: Cannot read file, error code 5", K.CARD_READ, None, False),
    ("SD errorCode:8", K.CARD_READ, None, False),
    ("echo:SD init fail", K.CARD_OPEN, None, False),
    ("echo:volume.init failed", K.CARD_OPEN, None, False),
    ("echo:openRoot failed", K.CARD_OPEN, None, False),
    ("open failed, File: thermal runaway.gco.", K.CARD_OPEN, None, False),
    ("file.open failed", K.CARD_OPEN, None, False),
    ("FilamentRunout T0", K.FILAMENT_OUT, None, False),
    ("important:Extruder jam detected", K.FILAMENT_JAM, None, False),
    ("Error: Filament error on extruder 0: no filament", K.FILAMENT_OUT, None, False),
    ("Error: Filament error on extruder 0: too little movement", K.FILAMENT_JAM, None, False),
    ("// Filament Detector has detected a filament jam", K.FILAMENT_JAM, None, False),
    ("Err:HOTEND FAN ERROR", K.FAN, None, False),
    ("Err:PRINT FAN ERROR", K.FAN, None, False),
    ("Error:Fan speed E0", K.FAN, None, False),
    ("TMC DRIVER OVERTEMP", K.DRIVER, None, False),
    ("Driver 0 error: over temperature", K.DRIVER, None, False),
    ("Driver 1 stall", K.DRIVER, None, False),
    ("Error:Driver error", K.DRIVER, None, False),
    ("POWER PANIC DETECTED", K.SUPPLY, None, False),
    ("VIN under-voltage event (9.8V)", K.SUPPLY, None, False),
    ("Error:Watchdog timeout. Reset required.", K.CONTROLLER, None, True),
    ("echo:EEPROM Corrupt", K.CONTROLLER, None, False),
    ("Error:Error writing to EEPROM!", K.CONTROLLER, None, False),
    ("Printer locked!", K.LOCKED, None, False),
    ("Error:something of its own", K.OTHER, None, False),
    ("Error:something of its own, system stopped!", K.OTHER, None, True),
]


@pytest.mark.parametrize(("line", "kind", "heater", "halted"), FAULTS, ids=[row[0] for row in FAULTS])
def test_a_fault_in_words_is_told_with_its_heater_and_whether_the_machine_has_halted(
    line: str, kind: FaultKind, heater: str | None, halted: bool
) -> None:
    assert read(Direction.RECEIVED, line) == (Fault(kind, line.strip(), heater, halted),)


@pytest.mark.parametrize(("line", "kind", "heater", "halted"), FAULTS, ids=[row[0] for row in FAULTS])
def test_noise_in_front_of_a_fault_does_not_hide_it(
    line: str, kind: FaultKind, heater: str | None, halted: bool
) -> None:
    """The supply that browns out spoils the line that says so."""
    if kind is not FaultKind.OTHER and line != "!!":  # these two are known by their prefix only
        seen = read(Direction.RECEIVED, f"\\xfe\\x00{line}")
        assert [(told.kind, told.halted) for told in seen if isinstance(told, Fault)] == [(kind, halted)]


MORE: list[tuple[str, tuple[FaultKind, ...]]] = [
    (
        "fatal:Heater decoupled during hold - Printer stopped and heaters disabled due to this error.",
        (K.RUNAWAY, K.STOPPED),
    ),
    ("fatal:G29 leveling failed! - Printer stopped and heaters disabled due to this error.", (K.PROBING, K.STOPPED)),
    ("fatal:something of its own", (K.STOPPED,)),
    ("!! STOP called because of MINTEMP error - restart with M999", (K.SENSOR_LOW, K.STOPPED)),
]


@pytest.mark.parametrize(("line", "kinds"), MORE, ids=[row[0] for row in MORE])
def test_a_line_that_names_a_cause_and_a_stop_tells_both(line: str, kinds: tuple[FaultKind, ...]) -> None:
    seen = read(Direction.RECEIVED, line)
    assert tuple(told.kind for told in seen if isinstance(told, Fault)) == kinds


@pytest.mark.parametrize(
    "line", ["echo:No media", "echo:No SD card", "Error: SD card 0 removed with 1 file(s) open on it"]
)
def test_a_card_that_is_gone_is_a_fault_and_absent(line: str) -> None:
    assert read(Direction.RECEIVED, line) == (Fault(K.CARD_GONE, line), CardPresent(False))


@pytest.mark.parametrize(
    "line",
    [
        "echo:Insert filament and send M108",
        "echo:Insert filament and press button",
        "echo:Press button to resume",
        "echo:Send M108 to resume",
        "echo:Press button to heat nozzle",
    ],
)
def test_a_request_to_a_person_is_a_wait(line: str) -> None:
    assert read(Direction.RECEIVED, line) == (Waiting(line.removeprefix("echo:")),)


ACTIONS: list[tuple[str, Action, FaultKind | None]] = [
    ("//action:pause", Action("pause", ""), None),
    ("// action:pause", Action("pause", ""), None),
    ("//action:paused", Action("paused", ""), None),
    ("//action:resume", Action("resume", ""), None),
    ("//action:resumed", Action("resumed", ""), None),
    ("//action:cancel", Action("cancel", ""), None),
    ("//action:start", Action("start", ""), None),
    ("//action:shutdown", Action("shutdown", ""), None),
    ("//action:disconnect", Action("disconnect", ""), None),
    ("//action:poweroff", Action("poweroff", ""), K.HALT),
    ("//action:paused filament_runout 0", Action("paused", "filament_runout 0"), K.FILAMENT_OUT),
    ("//action:filament_runout T0", Action("filament_runout", "T0"), K.FILAMENT_OUT),
    ("// action:out_of_filament T0", Action("out_of_filament", "T0"), K.FILAMENT_OUT),
    ("//action:prompt_begin FilamentRunout T0", Action("prompt_begin", "FilamentRunout T0"), K.FILAMENT_OUT),
    ("//action:prompt_begin Load the other colour", Action("prompt_begin", "Load the other colour"), None),
    ("//action:prompt_button Continue", Action("prompt_button", "Continue"), None),
    ("//action:prompt_show", Action("prompt_show", ""), None),
    ("//action:prompt_end", Action("prompt_end", ""), None),
    ("//action:probe_rewipe", Action("probe_rewipe", ""), None),
    ("//action:probe_failed", Action("probe_failed", ""), K.PROBING),
    ("//action:ready", Action("ready", ""), None),
    ("//action:not_ready", Action("not_ready", ""), None),
    ("//action:dump_available", Action("dump_available", ""), None),
    ("//action:uvlo_recovery_ready", Action("uvlo_recovery_ready", ""), None),
    (
        "//action:notification Thermal runaway, says the screen",
        Action("notification", "Thermal runaway, says the screen"),
        None,
    ),
    ("//action:notification Schicht f\\xfcnf", Action("notification", "Schicht f\\xfcnf"), None),
    ("//action:something_new 4", Action("something_new", "4"), None),
    ("RequestPause:Extruder Jam Detected!", Action("pause", "Extruder Jam Detected!"), K.FILAMENT_JAM),
    ("RequestContinue:", Action("resume", ""), None),
    ("RequestStop:", Action("cancel", ""), None),
]


@pytest.mark.parametrize(("line", "action", "kind"), ACTIONS, ids=[row[0] for row in ACTIONS])
def test_a_word_to_the_host_is_kept_and_its_fault_is_told(line: str, action: Action, kind: FaultKind | None) -> None:
    expected: tuple[Observation, ...] = (action,)
    if kind is not None:
        expected = (action, Fault(kind, line, halted=kind is K.HALT))
    assert read(Direction.RECEIVED, line) == expected


def test_another_comment_to_the_host_is_a_remark() -> None:
    assert read(Direction.RECEIVED, "// nothing to see") == (Remark("// nothing to see"),)
