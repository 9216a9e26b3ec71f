"""An older independent 8 and 32 bit code base."""

from collections.abc import Mapping
from typing import ClassVar

from watchdog.simulator.voices.common import Heats, Voice


class Independent(Voice):
    """Family B: CRLF, `ok` when a line arrives, `wait` when nothing does, negative targets while paused."""

    family = "B"
    newline = b"\r\n"
    full = 255
    slots = 16
    ok_on_receipt = True
    repeats_ok = True
    says_wait = True
    settings_prefix = ""
    sensor_trip = "dry-run"
    heat_trip = "lock"
    reports_itself = False
    reports_card_itself = False
    cools_paused = True
    tells_overrides = True
    busy_words: ClassVar[Mapping[str, str]] = {
        "processing": "busy:processing",
        "heating": "busy:heating",
        "person": "busy:paused for user interaction",
    }
    settles = 0.0
    open_sensor = shorted_sensor = -333.0
    capabilities = ("PROGRESS:0", "AUTOREPORT_TEMP:0", "EEPROM:1", "SDCARD:1")
    causes: ClassVar[Mapping[str, str]] = {
        "power-up": "PowerUp", "external": "External Reset", "brown-out": "Brown out Reset",
        "watchdog": "Watchdog Reset", "software": "Software Reset",
    }  # fmt: skip

    def banner(self, cause: str) -> list[str]:
        return ["start", self.causes[cause], "Info:Free memory 41232", "Card successfully initialized."]

    def heats(self, h: Heats) -> str:
        nozzle = f"-{h.nozzle_target:.0f}" if h.paused and h.nozzle_target else f"{h.nozzle_target:.0f}"
        flags = (" D0:1" if h.defect & 1 else "") + (" DB:1" if h.defect & 2 else "")
        return (
            f"T:{h.nozzle:.2f} /{nozzle} B:{h.bed:.2f} /{h.bed_target:.0f} "
            f"B@:{int(h.bed_duty * self.full)} @:{int(h.nozzle_duty * self.full)}{flags}"
        )

    def report(self, h: Heats) -> str:
        return self.heats(h)

    def heating(self, h: Heats, heater: str, left: float | None) -> str:
        return self.heats(h)

    def opened(self, short: str, size: int) -> list[str]:
        return [f"File opened:{short} Size:{size}", "File selected"]

    def not_opened(self, name: str) -> list[str]:
        return ["file.open failed"]

    def progress(
        self, *, name: str, byte: int, size: int, running: bool, paused: bool, mounted: bool, elapsed: float
    ) -> list[str]:
        return [f"SD printing byte {byte}/{size}" if mounted else "Not SD printing"]

    def done(self, elapsed: float) -> list[str]:
        return ["Done printing file"]

    def stopped(self) -> list[str]:
        return ["SD print stopped by user."]

    def card_gone(self) -> list[str]:
        return ["SD card removed"]

    def card_back(self) -> list[str]:
        return ["SD card inserted"]

    def card_error(self) -> str:
        return "SD errorCode:3"

    def unknown(self, whole: str) -> str:
        return f"Unknown command:{whole}"

    def wrong_number(self, last: int, got: int) -> list[str]:
        return [f"Error:expected line {last + 1} got {got}", "", f"Resend:{last + 1}"]

    def wrong_checksum(self, last: int) -> list[str]:
        return ["Error:Wrong checksum", "", f"Resend:{last + 1}"]

    def no_checksum(self, last: int) -> list[str]:
        return ["Error:Missing checksum", "", f"Resend:{last + 1}"]

    def verdict(self, verdict: str, heater: str) -> tuple[list[str], str]:
        hot_end = heater == "nozzle"
        if verdict in ("too-cold", "too-hot"):
            where = "extruder 0: temp sensor defect" if hot_end else "heated bed: temp sensor defect"
            return ["Disabling all heaters due to detected sensor defect.", where], "defect"
        cause = "Heater decoupled during hold" if verdict == "runaway" else "Heater decoupled during rising"
        return [f"fatal:{cause}"], cause

    def killed(self, screen: str) -> list[str]:
        return self.refused()

    def cold_extrusion(self) -> list[str]:
        return []

    def kill_button(self) -> list[str]:
        return []

    def refused(self) -> list[str]:
        return [
            "fatal:Printer stopped - Printer stopped and heaters disabled due to this error. "
            "Fix error and restart with M999."
        ]
