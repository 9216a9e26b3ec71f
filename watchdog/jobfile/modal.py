"""What stays in force from line to line, and every command but the plainest moves.

The engines read plain `G0` and `G1` lines by themselves; every other line comes here, in its order. What it asks for goes
into `rows`: moves, waits, heat, and limits that change.
"""

from math import isfinite

from watchdog.jobfile.arcs import centre_by_radius, pieces
from watchdog.jobfile.heating import heat
from watchdog.jobfile.machine_limits import MachineLimits, obeyed
from watchdog.jobfile.rows import Rows, Wait, force
from watchdog.jobfile.rules import Faults
from watchdog.jobfile.words import Line, read_line

INCH = 25.4

_PERSON = frozenset({"M0", "M1", "M25", "M226", "M600", "M601"})
_PROBES = frozenset({"G29", "G30", "G32", "G34"})
_RESTS = frozenset({"M400", "M17", "M18", "M84", "M2", "M30"})
_LIMITS = frozenset({"M201", "M203", "M204", "M205", "M566"})
# fmt: off
_QUIET = frozenset({
    "G17", "G61", "G64", "G80", "G94", "G54",
    "M3", "M5", "M20", "M21", "M22", "M23", "M24", "M27", "M31", "M42", "M73", "M75", "M76", "M77", "M80", "M81", "M82", "M83",
    "M92", "M105", "M106", "M107", "M108", "M110", "M111", "M113", "M114", "M115", "M117", "M118", "M119", "M120", "M121",
    "M150", "M155", "M200", "M206", "M207", "M208", "M211", "M218", "M221", "M280", "M300", "M301", "M302", "M304", "M355",
    "M412", "M413", "M420", "M486", "M500", "M501", "M502", "M503", "M569", "M572", "M593", "M665", "M666", "M851", "M862",
    "M900", "M906", "M907", "M914", "M999",
})
# fmt: on


class Modal:
    """Position (mm), modes, speed and limits while a file is read."""

    def __init__(self, limits: MachineLimits, rows: Rows, faults: Faults) -> None:
        self.limits = limits
        self.force = force(limits)
        self.rows = rows
        self.faults = faults
        rows.clear(self.force)
        self.x = self.y = self.z = self.e = 0.0
        self.relative = self.relative_e = False
        self.scale = 1.0
        self.feed = limits.feed
        """mm/s as asked, `percent` not included"""
        self.percent = 1.0
        self.tool: int | None = None
        self.retract = limits.retract_length, limits.retract_speed
        self.recover_extra = 0.0
        self.drawn_back = False
        self.homed = False
        self.odd = 0
        self.unknown: dict[str, int] = {}
        self.last_code = ""

    def obey(self, text: str, start: int, end: int) -> None:
        """Take in one line that stands at these bytes."""
        line = read_line(text)
        if line.odd:
            self.odd += 1
            if line.infinite:
                self.faults.add("number-not-finite", f"a number without end in: {text.strip()[:60]}", start)
        code = line.code
        if not code:
            return
        self.last_code = code
        if code in ("G0", "G1"):
            self._line(line, start, end)
        elif code in ("G2", "G3"):
            self._arc(line, start, end)
        elif code in _LIMITS:
            self.limits = obeyed(self.limits, code, {k: v for k, v in line.words.items() if v is not None})
            self.force = force(self.limits)
            self.rows.under(self.force)
        elif not (self._mode(line) or self._pause(line, start, end) or heat(self, line, start, end)):
            if code in _QUIET or code.partition(".")[0] in _QUIET:
                return
            if len(self.unknown) < 64 or code in self.unknown:
                self.unknown[code] = self.unknown.get(code, 0) + 1

    def event(self, wait: Wait) -> None:
        """Come to rest here."""
        self.rows.events.append((len(self.rows.end), wait))

    def move(self, x: float, y: float, z: float, e: float, speed: float, start: int, end: int) -> None:
        """Go by these (mm) at `speed` (mm/s, `percent` not included)."""
        rows = self.rows
        rows.x.append(x)
        rows.y.append(y)
        rows.z.append(z)
        rows.e.append(e)
        rows.v.append(speed * self.percent)
        rows.start.append(start)
        rows.end.append(end)
        rows.high.append(self.z)

    def _goal(self, line: Line) -> tuple[float, float, float, float]:
        """Where the line leads; takes over its speed. A letter without a number makes the line odd."""
        words, scale = line.words, self.scale
        feed = words.get("F")
        if feed is not None and feed > 0:
            self.feed = feed * scale / 60
        goal = [self.x, self.y, self.z, self.e]
        for axis, letter in enumerate("XYZE"):
            if letter not in words:
                continue
            value = words[letter]
            if value is None:
                self.odd += not line.odd
                line = line._replace(odd=True)
            elif self.relative_e if axis == 3 else self.relative:
                goal[axis] += value * scale
            else:
                goal[axis] = value * scale
        return goal[0], goal[1], goal[2], goal[3]

    def _line(self, line: Line, start: int, end: int) -> None:
        x, y, z, e = self._goal(line)
        by = x - self.x, y - self.y, z - self.z, e - self.e
        self.x, self.y, self.z, self.e = x, y, z, e
        if any(by):
            self.move(*by, self.feed, start, end)

    def _arc(self, line: Line, start: int, end: int) -> None:
        clockwise = line.code == "G2"
        x0, y0, z0, e0 = self.x, self.y, self.z, self.e
        x, y, z, e = self._goal(line)
        i, j, r = line.words.get("I"), line.words.get("J"), line.words.get("R")
        centre: tuple[float, float] | None = None
        if r is not None:
            centre = centre_by_radius(x - x0, y - y0, r * self.scale, clockwise=clockwise)
        elif i is not None or j is not None:
            centre = (i or 0.0) * self.scale, (j or 0.0) * self.scale
        turns = line.words.get("P") or 0.0
        turns = int(turns) if 0 <= turns <= 100 and isfinite(turns) else 0
        cut = None
        if centre is not None:
            cut = pieces(x - x0, y - y0, *centre, clockwise=clockwise, chord=self.limits.arc_chord, turns=int(turns))
        if cut is None:
            self.odd += not line.odd
            self.faults.add("bad-arc", f"an arc without a possible centre: {line.code}", start)
            return
        radius, ways = cut
        self.rows.under(self.force._replace(radius=radius))
        count = len(ways)
        for dx, dy in ways:
            self.z += (z - z0) / count
            self.move(dx, dy, (z - z0) / count, (e - e0) / count, self.feed, start, end)
        self.rows.under(self.force)
        self.x, self.y, self.z, self.e = x, y, z, e

    def _mode(self, line: Line) -> bool:
        """Commands that only change how later lines are read."""
        code, words = line.code, line.words
        match code:
            case "G20" | "G21":
                self.scale = INCH if code == "G20" else 1.0
            case "G90" | "G91":
                self.relative = self.relative_e = code == "G91"
            case "M82" | "M83":
                self.relative_e = code == "M83"
            case "G92":
                named = [letter for letter in "XYZE" if words.get(letter) is not None]
                for letter in named or "XYZE" * (not words):
                    setattr(self, letter.lower(), (words.get(letter) or 0.0) * self.scale)
            case "M220":
                percent = words.get("S")
                if percent is not None and 1 <= percent <= 1000:
                    self.percent = percent / 100
            case "M207":
                length, speed = words.get("S"), words.get("F")
                self.retract = (
                    abs(length) * self.scale if length is not None else self.retract[0],
                    speed * self.scale / 60 if speed is not None and speed > 0 else self.retract[1],
                )
            case "M208":
                self.recover_extra = (words.get("S") or 0.0) * self.scale
            case _:
                return False
        return True

    def _pause(self, line: Line, start: int, end: int) -> bool:
        """Commands at which motion ends for a while, and the two that move the filament by a stored length."""
        code, words, limits = line.code, line.words, self.limits
        if code == "G4":
            seconds, thousandths = words.get("S"), words.get("P")
            wait = seconds if seconds is not None else (thousandths or 0.0) / 1000
            if not 0 <= wait < 1e7:
                self.odd += not line.odd
                wait = 0.0
            self.event(Wait("dwell", start, end, code, wait))
        elif code == "G28":
            named = [letter for letter in "XYZ" if letter in words] or list("XYZ")
            self.event(Wait("home", start, end, code, limits.homing * len(named) / 3))
            for letter in named:
                setattr(self, letter.lower(), 0.0)
            self.homed = True
        elif code in _PROBES:
            self.event(Wait("probe", start, end, code, limits.probing))
        elif code in _PERSON:
            self.event(Wait("person", start, end, code))
        elif code in _RESTS:
            self.event(Wait("", start, end, code))
        elif code.startswith("T"):
            number = int(code[1:].partition(".")[0][:6])
            if self.tool is not None and number != self.tool:
                self.event(Wait("tool", start, end, code, limits.tool_change))
            self.tool = number
        elif code == "G10" and not words.keys() & {"L", "P"}:
            self._filament(-1.0, start, end)
        elif code == "G11":
            self._filament(1.0, start, end)
        else:
            return False
        return True

    def _filament(self, way: float, start: int, end: int) -> None:
        """Draw the filament back, or feed it again; twice the same is once."""
        if self.drawn_back == (way < 0):
            return
        self.drawn_back = way < 0
        length, speed = self.retract
        extra = self.recover_extra if way > 0 else 0.0
        if length + extra > 0:
            self.move(0.0, 0.0, 0.0, way * (length + extra), speed, start, end)
