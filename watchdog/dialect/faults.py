"""What the machine says is wrong.

    Error:Thermal Runaway, system stopped! Heater_ID: E0           cause, what was done, which heater
    Error:Printer halted. kill() called!                           confirms, seconds later or never
    fatal:Heater decoupled during hold - Printer stopped and heaters disabled due to this error. …
    !! heater 0 or its temp sensor broken - temp is …
    Error:SD read error

The texts are matched anywhere in the line and in any case, since prefixes differ and noise may stand in front. The first
row that fits names the cause; a line that also says that moves are refused yields that too.
Texts: the controllers' published source code; the rows with 'screen text' are shown on panels, on the wire from memory.
"""

import re
from typing import NamedTuple

from watchdog.core.observations import CardPresent, Fault, FaultKind, Observation
from watchdog.dialect.damage import is_damaged, mended


class _Row(NamedTuple):
    words: re.Pattern[str]
    kind: FaultKind
    halted: bool = False
    heat: bool = False
    """the text may name a heater"""


def _heat(words: str, kind: FaultKind, halted: bool = False) -> _Row:
    return _Row(re.compile(words), kind, halted, heat=True)


def _row(words: str, kind: FaultKind, halted: bool = False) -> _Row:
    return _Row(re.compile(words), kind, halted)


_ROWS = (
    # The card first: these texts carry file names, which may hold any word.
    _row(r"open failed, file:|file\.open failed|volume\.init failed|openroot failed|sd init fail", FaultKind.CARD_OPEN),
    _row(r"sd read error|error writing to file|cannot read file, error code|sd errorcode:", FaultKind.CARD_READ),
    _row(r"\bno sd card\b|\bno media\b|sd card \d+ removed with \d+ file", FaultKind.CARD_GONE),
    _heat(r"thermal runaway \(preheat", FaultKind.HEATING_FAILED, halted=True),
    _heat(r"temperature runaway on", FaultKind.RUNAWAY, halted=True),
    _heat(
        r"thermal runaway|thermal anomaly|heater decoupled during hold|could not hold temperature", FaultKind.RUNAWAY
    ),
    _heat(r"heater \d+ fault:|heater \d+ or its temp sensor broken", FaultKind.RUNAWAY),
    _heat(r"temperature took too long to be reached", FaultKind.HEATING_FAILED, halted=True),
    _heat(
        r"heating failed|heater decoupled during rising|temp\. raised to slow|seems decoupled from thermistor",
        FaultKind.HEATING_FAILED,
    ),
    _heat(r"thermal malfunction|\btm: error", FaultKind.HEAT_MODEL),
    _heat(r"mintemp or maxtemp triggered|temperature reading is unreliable", FaultKind.SENSOR, halted=True),
    _heat(r"temperature difference between temp sensors", FaultKind.SENSOR, halted=True),
    _heat(r"\bmintemp\b(?!:)", FaultKind.SENSOR_LOW),
    _heat(r"\bmaxtemp\b(?!:)", FaultKind.SENSOR_HIGH),
    _heat(r"sensor defect|marked decoupled", FaultKind.SENSOR),
    _row(
        r"printer halted\. kill\(\) called|m112 shutdown|m112 called|emergency stop[!. ]", FaultKind.HALT, halted=True
    ),
    _row(r"!! kill caused by|kill button pressed|halted, m999 or", FaultKind.HALT, halted=True),
    _row(r"homing failed|homing cycle failed|endstops hit:", FaultKind.HOMING),
    _row(r"probing failed|z probe past bed|leveling failed", FaultKind.PROBING),
    _row(r"(?:cold|too long) extrusion prevented|hotend too cold", FaultKind.COLD_EXTRUSION),
    _row(r"extruder jam detected|filament (?:error|detector).*(?:jam|movement)", FaultKind.FILAMENT_JAM),
    _row(r"filament_?runout|out_of_filament|filament error on|filament detector has detected", FaultKind.FILAMENT_OUT),
    _row(r"(?:hotend|print) fan error|fan speed e\d", FaultKind.FAN),
    _row(r"driver overtemp|driver \d+ (?:error|stall)|driver error", FaultKind.DRIVER),
    _row(r"power panic detected|under-voltage event|brown out reset", FaultKind.SUPPLY),
    _row(r"watchdog timeout\. reset required", FaultKind.CONTROLLER, halted=True),
    _row(r"watchdog reset|eeprom corrupt|error writing to eeprom", FaultKind.CONTROLLER),
    _row(r"printer locked!", FaultKind.LOCKED),
)
_STOPPED = re.compile(
    r"printer stopped due to errors|!! stop called because|printer stopped and heaters disabled|supervision required"
)
_ANY = re.compile("|".join(row.words.pattern for row in _ROWS) + "|" + _STOPPED.pattern)
_HALTED = ("system stopped", "halt asserted")
_HEATER_ID = re.compile(r"heater_id:\s*(e?\d|bed|b|chamber|c)(?![a-z0-9])", re.ASCII)
_HEATER_WORDS = (
    ("chamber", re.compile(r"\bchamber\b")),
    ("bed", re.compile(r"\bbed\b|\bheatbed\b|\bon b\b")),
    ("nozzle", re.compile(r"\bhotend\b|\bextruder \d|\bon t\d?\b|\b\d: heaters switched off|\b\d: (?:min|max)temp")),
)


def read(line: str) -> tuple[Observation, ...]:
    """The faults that `line` tells; empty when it tells none that is known."""
    lower = (mended(line) if is_damaged(line) else line).lower()
    if _ANY.search(lower) is None:
        return ()
    told: list[Observation] = []
    for row in _ROWS:
        if row.words.search(lower):
            halted = row.halted or any(words in lower for words in _HALTED)
            told.append(Fault(row.kind, line, _heater(lower) if row.heat else None, halted))
            if row.kind is FaultKind.CARD_GONE:
                told.append(CardPresent(False))
            break
    if _STOPPED.search(lower):
        told.append(Fault(FaultKind.STOPPED, line))
    return tuple(told)


def read_marked(line: str) -> tuple[Observation, ...] | None:
    """A line whose prefix says that it is an error, known by its words or not."""
    lower = line[:6].lower()
    if lower.startswith("error:"):
        halted = any(words in line.lower() for words in _HALTED)
        return read(line) or (Fault(FaultKind.OTHER, line, halted=halted),)
    if lower.startswith("fatal:"):  # locked until somebody frees it
        told = read(line)
        stopped = Fault(FaultKind.STOPPED, line)
        return told if stopped in told else (*told, stopped)
    if line.startswith("!!"):  # a hard error; bare, it is the answer to every command after a halt
        return read(line) or (Fault(FaultKind.HALT, line, halted=True),)
    return None


def _heater(lower: str) -> str | None:
    """Which heater: 'nozzle', 'bed', 'chamber'; None when the text does not say or says a number that the set-up assigns."""
    found = _HEATER_ID.search(lower)
    if found is not None:
        return {"b": "bed", "c": "chamber"}.get(found[1][0], "nozzle")
    return next((heater for heater, words in _HEATER_WORDS if words.search(lower)), None)
