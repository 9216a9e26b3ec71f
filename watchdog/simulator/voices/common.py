"""How each controller family words what it says. Family A here; the others override what they word otherwise.

The wording is the one of the open RepRap G-code dialect as the controllers' sources hold it.
"""

from collections.abc import Mapping
from typing import ClassVar, NamedTuple


class Heats(NamedTuple):
    """What a temperature report tells."""

    nozzle: float
    nozzle_target: float
    bed: float
    bed_target: float
    nozzle_duty: float
    """0…1"""
    bed_duty: float
    board: float
    """°C of the surroundings"""
    defect: int = 0
    """1: hot-end sensor broken; 2: bed sensor broken; 3: both"""
    paused: bool = False


def clock_text(seconds: float) -> str:
    """``2d 0h 3m 0s``: leading parts that are zero are left out."""
    days, rest = divmod(int(seconds), 86400)
    hours, rest = divmod(rest, 3600)
    minutes, whole = divmod(rest, 60)
    parts = [(days, "d"), (hours, "h"), (minutes, "m"), (whole, "s")]
    while len(parts) > 1 and parts[0][0] == 0:
        parts.pop(0)
    return " ".join(f"{number}{unit}" for number, unit in parts)


class Voice:
    """Family A: the most widespread code base of today."""

    family = "A"
    newline = b"\n"
    full = 127
    """power at full duty"""
    slots = 4
    """commands that wait behind the one being executed"""
    ok_on_receipt = False
    repeats_ok = False
    """an `ok` follows a request to resend"""
    says_wait = False
    busy_words: ClassVar[Mapping[str, str]] = {
        "processing": "echo:busy: processing",
        "person": "echo:busy: paused for user",
    }
    settles = 5.0
    """s within the window before a heat wait ends"""
    sensor_trip = "halt"
    """what a broken sensor does: 'halt'; 'stop' (moves refused, questions answered); 'dry-run' (heaters off, moves go on)"""
    heat_trip = "halt"
    """what a runaway or the emergency stop does: 'halt', or 'lock' (the same refusal to every line)"""
    reset_after_halt = False
    settings_prefix = "echo:"
    reports_itself = True
    """M155 is known"""
    reports_card_itself = True
    """M27 S is known"""
    cools_paused = False
    """a paused nozzle gets no heat, and its target is told negative"""
    tells_overrides = False
    """says when speed or flow are changed"""
    tells_percent_when_set = False
    """M73 answers even when it sets something"""
    done_at_reading = False
    """`Done printing file` comes when the reader is at the end, not the nozzle"""
    capabilities: ClassVar[tuple[str, ...]] = (
        "SERIAL_XON_XOFF:0", "EEPROM:1", "AUTOREPORT_POS:0", "AUTOREPORT_TEMP:1", "AUTOREPORT_SD_STATUS:1",
        "PROGRESS:0", "PRINT_JOB:1", "RUNOUT:0", "EMERGENCY_PARSER:1", "HOST_ACTION_COMMANDS:0", "PROMPT_SUPPORT:0",
        "SDCARD:1", "LONG_FILENAME:1", "EXTENDED_M20:1", "THERMAL_PROTECTION:1", "ARCS:1", "BABYSTEPPING:0",
        "CHAMBER_TEMPERATURE:0", "MULTI_VOLUME:0",
    )  # fmt: skip
    causes: ClassVar[Mapping[str, str]] = {
        "power-up": "PowerUp", "external": " External Reset", "brown-out": " Brown out Reset",
        "watchdog": " Watchdog Reset", "software": " Software Reset",
    }  # fmt: skip
    open_sensor = -15.0
    shorted_sensor = 500.0

    def __init__(self, *, action_words: bool | None = None) -> None:
        self.action_words = self.usual_action_words if action_words is None else action_words

    usual_action_words = False

    # ------------------------------------------------------------ start

    def banner(self, cause: str) -> list[str]:
        return [
            "start",
            self.causes[cause],
            "echo: Free Memory: 5120  PlannerBufferBytes: 1232",
            "echo:SD card ok",
        ]

    # ------------------------------------------------------------ heat

    def heats(self, h: Heats) -> str:
        """The fields of a temperature report."""
        return (
            f"T:{h.nozzle:.2f} /{h.nozzle_target:.2f} B:{h.bed:.2f} /{h.bed_target:.2f} "
            f"@:{int(h.nozzle_duty * self.full)} B@:{int(h.bed_duty * self.full)}"
        )

    def report(self, h: Heats) -> str:
        """The same, by itself."""
        return " " + self.heats(h)

    def heating(self, h: Heats, heater: str, left: float | None) -> str:
        """While waiting for heat; `left` s of settling, None when not there yet."""
        return f" {self.heats(h)} W:{'?' if left is None else int(left)}"

    # ------------------------------------------------------------ card

    def opened(self, short: str, size: int) -> list[str]:
        return [f"echo:Now fresh file: {short}", f"File opened: {short} Size: {size}", "File selected"]

    def not_opened(self, name: str) -> list[str]:
        return [f"open failed, File: {name}."]

    def chosen_at_panel(self, short: str, size: int) -> list[str]:
        return self.opened(short, size)

    def started_at_panel(self) -> list[str]:
        return []

    def progress(
        self, *, name: str, byte: int, size: int, running: bool, paused: bool, mounted: bool, elapsed: float
    ) -> list[str]:
        return [f"SD printing byte {byte}/{size}" if name else "Not SD printing"]

    def done(self, elapsed: float) -> list[str]:
        told = [f"echo:Print time: {clock_text(elapsed)}"] if elapsed > 60 else []
        return [*told, "Done printing file"]

    def stopped(self) -> list[str]:
        return ["//action:cancel"] if self.action_words else []

    def paused(self) -> list[str]:
        return ["//action:paused"] if self.action_words else []

    def resumed(self) -> list[str]:
        return ["//action:resumed"] if self.action_words else []

    def ran_out(self) -> list[str]:
        """The sensor finds no filament; a build without words to the host says nothing."""
        return ["//action:paused filament_runout 0"] if self.action_words else []

    def card_gone(self) -> list[str]:
        return ["echo:SD card released"]

    def card_back(self) -> list[str]:
        return ["echo:SD card ok"]

    def card_error(self) -> str:
        return "Error:SD read error"

    def percent(self, percent: float, minutes: float | None) -> list[str]:
        left = "" if minutes is None else f" Time left: {minutes:.0f}m;"
        return [f"echo: M73 Progress: {percent:.0f}%;{left}"]

    # ------------------------------------------------------------ the line

    def unknown(self, whole: str) -> str:
        return f'echo:Unknown command: "{whole}"'

    def wrong_number(self, last: int, got: int) -> list[str]:
        return [
            f"Error:Line Number is not Last Line Number+1, Last Line: {last}",
            f"Resend: {last + 1}",
        ]

    def wrong_checksum(self, last: int) -> list[str]:
        return [f"Error:checksum mismatch, Last Line: {last}", f"Resend: {last + 1}"]

    def no_checksum(self, last: int) -> list[str]:
        return [f"Error:No Checksum with line number, Last Line: {last}", f"Resend: {last + 1}"]

    # ------------------------------------------------------------ faults

    def verdict(self, verdict: str, heater: str) -> tuple[list[str], str]:
        """What is said first for a guard's verdict, and the screen text that follows."""
        where = "E0" if heater == "nozzle" else "bed"
        cause, screen = {
            "runaway": ("Thermal Runaway", "THERMAL RUNAWAY"),
            "heating-failed": ("Heating failed", "HEATING FAILED"),
            "too-cold": ("MINTEMP triggered", "Err: MINTEMP"),
            "too-hot": ("MAXTEMP triggered", "Err: MAXTEMP"),
        }[verdict]
        return [f"Error:{cause}, system stopped! Heater_ID: {where}"], f"{screen}: {where}"

    def killed(self, screen: str) -> list[str]:
        """The last words of a halt."""
        return [f"echo:{screen}", "Error:Printer halted. kill() called!"]

    def cold_extrusion(self) -> list[str]:
        return ["echo: cold extrusion prevented"]

    def kill_button(self) -> list[str]:
        return ["!! KILL caused by KILL button/pin"]

    def refused(self) -> list[str]:
        """The answer to a command while locked or stopped; nothing by default."""
        return []
