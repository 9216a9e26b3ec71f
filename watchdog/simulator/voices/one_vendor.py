"""A one-vendor 8-bit derivative of the first generation of family A."""

from watchdog.simulator.voices.common import Heats, Voice


class OneVendor(Voice):
    """Family A': three-line progress, short waiting lines, `ok` behind every request to resend."""

    family = "A'"
    repeats_ok = True
    sensor_trip = "stop"
    reset_after_halt = True
    reports_card_itself = False
    tells_percent_when_set = True
    done_at_reading = True
    usual_action_words = True
    open_sensor = 0.0
    capabilities = (
        "AUTOREPORT_TEMP:1", "AUTOREPORT_FANS:1", "AUTOREPORT_POSITION:0", "EXTENDED_M20:1", "HOST_ACTION_COMMANDS:1",
    )  # fmt: skip

    def banner(self, cause: str) -> list[str]:
        return ["start", "echo:" + self.causes[cause], "echo: Free Memory: 1872  PlannerBufferBytes: 1312"]

    def heats(self, h: Heats) -> str:
        return (
            f"T:{h.nozzle:.1f} /{h.nozzle_target:.1f} B:{h.bed:.1f} /{h.bed_target:.1f} "
            f"T0:{h.nozzle:.1f} /{h.nozzle_target:.1f} @:{int(h.nozzle_duty * self.full)} "
            f"B@:{int(h.bed_duty * self.full)} P:0.0 A:{h.board:.1f}"
        )

    def report(self, h: Heats) -> str:
        return self.heats(h)

    def heating(self, h: Heats, heater: str, left: float | None) -> str:
        if heater == "bed":
            return f"T:{h.nozzle:.2f} E:0 B:{h.bed:.1f}"
        return f"T:{h.nozzle:.1f} E:0 W:{'?' if left is None else int(left)}"

    def started_at_panel(self) -> list[str]:
        return ['echo:enqueueing "M24"']

    def chosen_at_panel(self, short: str, size: int) -> list[str]:
        return [f'echo:enqueueing "M23 {short}"', *self.opened(short, size)]

    def progress(
        self, *, name: str, byte: int, size: int, running: bool, paused: bool, mounted: bool, elapsed: float
    ) -> list[str]:
        if paused:
            return ["SD print paused"]
        if not running:
            return ["Not SD printing"]
        minutes = int(elapsed // 60)
        return [name, f"SD printing byte {byte}/{size}", f"{minutes // 60}:{minutes % 60:02d}"]

    def done(self, elapsed: float) -> list[str]:
        minutes = int(elapsed // 60)
        return ["Done printing file", f"echo:{minutes // 60} hours {minutes % 60} minutes"]

    def percent(self, percent: float, minutes: float | None) -> list[str]:
        left = -1 if minutes is None else int(minutes)
        words = f"Percent done: {percent:.0f}; print time remaining in mins: {left}; Change in mins: -1"
        return [f"NORMAL MODE: {words}", f"SILENT MODE: {words}"]

    def unknown(self, whole: str) -> str:
        letter = "G" if whole.startswith("G") else "M"
        return f"Unknown {letter} code: {whole}"

    def verdict(self, verdict: str, heater: str) -> tuple[list[str], str]:
        hot_end = heater == "nozzle"
        where = "HOTEND" if hot_end else "HEATBED"
        words = {
            "runaway": f"{where} THERMAL RUNAWAY",
            "heating-failed": f"THERMAL RUNAWAY (PREHEAT {where})",
            "too-cold": f"Error:0: Heaters switched off. MINTEMP{'' if hot_end else ' BED'} triggered!",
            "too-hot": f"Error:0: Heaters switched off. MAXTEMP{'' if hot_end else ' BED'} triggered!",
        }[verdict]
        return [words], where

    def killed(self, screen: str) -> list[str]:
        return ["Error:Printer halted. kill() called!"]

    def refused(self) -> list[str]:
        return ["Error:Printer stopped due to errors. Supervision required."]
