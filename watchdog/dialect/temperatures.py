"""Temperature reports: the answer to M105, automatic reports, and lines printed while the machine waits for heat.

    ok T:204.87 /205.00 B:59.94 /60.00 @:71 B@:33
       T nozzle   B bed   now / target, °C   @ heater power (full scale 127 or 255, differs by controller)
    T:188.3 E:0 W:?                 waiting: no target told, E is the extruder's number, W the settling left, s
    T:204.87 /-205 B@:86 @:141      a negative target: paused, will resume to 205
    T:204.9 /205.0 @141             power without colon, a sensor a line
    T0:204.9 /205.0 203.8 /205.0    one tool with two heaters, the second pair unlabelled
    T:-333.00 /0 … D0:1 DB:0        the controller's own sensor flags, hot end 0 and bed

Source: RepRap community wiki, page "G-code", M105, M109, M155; shapes as the controllers' published source code prints them.
Fields are found by shape, never by their place in the line. A field that touches a stranger's character is not taken.
"""

import re

from watchdog.core.observations import Reading, Temperatures

_NUMBER = r"-?\d{1,5}(?:\.\d{1,6})?"
_SETTLING = r"\?|\d{1,4}"

# The commonest shapes in one go; everything else takes the longer way below.
_USUAL = re.compile(
    rf"T:({_NUMBER}) ?/({_NUMBER})(?: B:({_NUMBER}) ?/({_NUMBER}))?(?: @:(\d{{1,4}})(?: B@:(\d{{1,4}}))?)?"
    rf"(?: W:({_SETTLING}))?",
    re.ASCII,
)
_FIELD = re.compile(
    r"(?<!\S)(?:"
    rf"(?P<sensor>[TBC]\d{{0,2}}|[LPMSRA]):\s?(?P<now>{_NUMBER}|-?(?:nan|inf|NAN|INF))"
    rf"(?:\s?/\s?(?P<target>{_NUMBER})(?:\s{_NUMBER}\s?/\s?{_NUMBER})?)?(?:\s\({_NUMBER}\))?"
    r"|(?P<heater>[BC]?@\d{0,2}):(?P<power>-?\d{1,4})W?"
    r"|@(?P<own_power>\d{1,4})"
    rf"|W:(?P<settling>{_SETTLING})"
    r"|E:(?P<extruder>\d{1,2})"
    r"|D(?P<flagged>\d|B):(?P<flag>\d)"
    r")(?!\S)",
    re.ASCII,
)
_STRANGER = re.compile(r"[AC-SU-Za-z][\w@]*:\S*", re.ASCII)  # a further field that some build may add; never a T or a B
_SENSOR_OF = {"B@": "B", "C@": "C"}


def read(line: str, acknowledged: bool = False) -> Temperatures | None:
    """The report in `line` (blanks stripped, `ok` taken off); None when it is none.

    `acknowledged`: the line began with `ok`, so it answers a query and is not a waiting line.
    """
    usual = _USUAL.fullmatch(line)
    if usual is not None:
        now, target, bed_now, bed_target, power, bed_power, settling = usual.groups()
        bed = None
        if bed_now is not None:
            bed = Reading(float(bed_now), _at_least_off(bed_target), None if bed_power is None else int(bed_power))
        nozzle = Reading(float(now), _at_least_off(target), None if power is None else int(power))
        paused = -float(target) if target[0] == "-" and float(target) < 0 else None
        if settling is None:
            return Temperatures(nozzle, bed, (), False, None, paused)
        return Temperatures(nozzle, bed, (), True, None if settling == "?" else float(settling), paused)
    return _read_any(line, acknowledged)


def _at_least_off(target: str) -> float:
    """A negative target means a paused heater: off now."""
    return max(0.0, float(target))


def _read_any(line: str, acknowledged: bool) -> Temperatures | None:
    sensors: dict[str, tuple[float | None, float | None]] = {}
    powers: dict[str, int] = {}
    flags: dict[str, int] = {}
    waiting, settling, paused, extruder_told, last, read_to = False, None, None, False, "", 0
    for found in _FIELD.finditer(line):
        if not _only_strangers(line[read_to : found.start()]):
            return None
        read_to = found.end()
        sensor, now, target, heater, power, own_power, left, extruder, flagged, flag = found.groups()
        if sensor is not None:
            if sensor in sensors:  # two lines run together: which half is whole cannot be told
                return None
            goal = None if target is None else float(target)
            if goal is not None and goal < 0:
                paused = -goal if sensor[0] == "T" and paused is None else paused
                goal = 0.0
            sensors[sensor] = (None if now[-1] in "nfNF" else float(now), goal)
            last = sensor
        elif heater is not None:
            # The chamber comes first, and a cooler is printed under its name.
            powers.setdefault(_SENSOR_OF.get(heater) or "T" + heater[1:], int(power))
        elif own_power is not None:
            powers[last] = int(own_power)
            waiting = waiting or not acknowledged  # printed unasked in this shape only while it waits
        elif left is not None:
            waiting, settling = True, None if left == "?" else float(left)
        elif extruder is not None:
            extruder_told = True
        else:
            flags[flagged] = int(flag)
    if not any(name[0] in "TB" for name in sensors) or not _only_strangers(line[read_to:]):
        return None
    waiting = waiting or (extruder_told and sensors.get("T", (None, 0.0))[1] is None)
    readings = {name: Reading(now, target, powers.get(name)) for name, (now, target) in sensors.items()}
    nozzle = readings.pop(_nozzle_name(readings), None)
    hot_end_flag = next((flag for place, flag in flags.items() if place != "B"), None)
    bed = readings.pop("B", None)
    return Temperatures(nozzle, bed, tuple(readings.items()), waiting, settling, paused, hot_end_flag, flags.get("B"))


def _only_strangers(gap: str) -> bool:
    """Nothing in `gap` but blanks and fields that some build may add; rubbish makes the whole line doubtful."""
    return not gap or gap.isspace() or all(_STRANGER.fullmatch(rest) for rest in gap.split())


def _nozzle_name(readings: dict[str, Reading]) -> str:
    """The active hot end's field. With no tool selected some controllers leave `T:` out: then the hottest one counts."""
    if "T" in readings:
        return "T"
    numbered = [name for name in readings if name[0] == "T"]
    return max(numbered, key=lambda name: readings[name].now or 0.0, default="T")
