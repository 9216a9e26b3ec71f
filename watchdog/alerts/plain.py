"""Times, durations and evidence in plain words."""

import math
import re
from datetime import datetime, tzinfo

from watchdog.alerts.languages import ENGLISH, Language
from watchdog.core.finding import Evidence

FILE_KEYS = frozenset({"file", "file_name", "filename", "short", "long", "job", "path"})
"""evidence that names a job file; file names hold pupils' names"""

PERSON_KEYS = frozenset({"by", "who", "person", "people", "requester", "name", "owner"})
"""evidence that can name somebody; never told"""

_TWICE = frozenset({"purge_mm3"})
"""told already, inside the advice"""

SPOKEN_KEYS = frozenset({"text", "said", "words", "message", "prompt", "line"})
"""evidence in the machine's own words, which a job file can put there (a display text holds what its maker liked)"""

_SETTINGS_OWN = frozenset({"measured_in"})
"""evidence in the words of the settings, where "mg/m³" is a unit and no file"""

_TEMPERATURES = frozenset({"nozzle", "bed", "target", "temperature", "gap", "drop", "rise", "jump", "heat", "hottest"})

_UNITS = (
    ("_percent", " %"),
    ("_pct", " %"),
    ("_mm", " mm"),
    ("_mg", " mg"),
    ("_celsius", " °C"),
    ("_c", " °C"),
    ("_w", " W"),
)
_SPELT = (("_per_min", "units.per_minute"), ("_bytes", "units.bytes"))  # units that are words
_SECONDS = (("_seconds", 1.0), ("_s", 1.0), ("_minutes", 60.0), ("_min", 60.0), ("_hours", 3600.0), ("_h", 3600.0))
_SPEED = "_mm_s"  # of filament; its ending is no time

_BOUNDS = frozenset({"low", "high"})
"""evidence of which None says that there is no such limit"""

_FILE_LIKE = re.compile(
    r"~\d|[/\\]|\.(?:g|gc|gco|gcode|bgcode|nc|ngc|tap|txt|stl|3mf)\b|\bfile\b|\bprinting\b", re.IGNORECASE
)


def clock_time(stamp: float, zone: tzinfo, now: float, language: Language = ENGLISH) -> str:
    """Local time as ``09:31``, with the day before it (``2 Mar 09:31``) when that is not today."""
    there = datetime.fromtimestamp(stamp, zone)
    time = f"{there:%H:%M}"
    if same_day(stamp, zone, now):
        return time
    month = language.say("date.months").split()[there.month - 1]
    return language.say("date.day", day=there.day, month=month, time=time)


def same_day(stamp: float, zone: tzinfo, now: float) -> bool:
    """Whether both fall on one local day."""
    return datetime.fromtimestamp(stamp, zone).date() == datetime.fromtimestamp(now, zone).date()


def zone_name(stamp: float, zone: tzinfo) -> str:
    """What the zone calls itself at that time: tells the two equal hours at the end of summer time apart."""
    return datetime.fromtimestamp(stamp, zone).tzname() or ""


def duration(seconds: float, language: Language = ENGLISH) -> str:
    """``45 s``, ``10 min``, ``1 h 30 min``, ``2 days``. Negative counts as none."""
    if not math.isfinite(seconds):
        return language.say("unknown.value")
    whole = max(0, round(seconds))
    if whole < 120 and whole % 60:
        return language.say("duration.seconds", n=whole)
    minutes = round(whole / 60)
    if minutes < 60:
        return language.say("duration.minutes", n=minutes)
    hours, minutes = divmod(minutes, 60)
    if hours < 24:
        name = "duration.hours_minutes" if minutes else "duration.hours"
        return language.say(name, n=hours, hours=hours, minutes=minutes)
    days = round(whole / 86400)
    return language.say("duration.day" if days == 1 else "duration.days", n=days)


def shorten(text: str, room: int) -> str:
    """`text` in at most `room` characters, on one line; a cut is shown by ``…``."""
    text = " ".join(text.split())
    if len(text) <= room:
        return text
    return text[: max(0, room - 1)].rstrip(" ,;:.") + "…" if room > 0 else ""


def seen(evidence: Evidence, *, show_files: bool, language: Language = ENGLISH) -> tuple[str, ...]:
    """The evidence as short phrases with units: ``nozzle 205 °C``. Whatever names a person is left out, always;
    whatever names or may name a file is left out unless `show_files`."""
    phrases = []
    for key, value in evidence.items():
        bare = key.lower()
        if bare in PERSON_KEYS or bare in _TWICE or (bare in FILE_KEYS and not show_files):
            continue
        may_name_file = isinstance(value, str) and bare not in _SETTINGS_OWN and _FILE_LIKE.search(value)
        if isinstance(value, str) and not show_files and (bare in SPOKEN_KEYS or may_name_file):
            continue
        if value is None and bare in _BOUNDS:
            continue
        phrases.append(phrase(bare, value, language))
    return tuple(phrases)


def phrase(key: str, value: float | int | str | None, language: Language) -> str:
    """One piece of evidence; by its own name where the language has no phrase for it."""
    label, amount = _measured(key, value, language)
    name = f"evidence.{key}"
    return language.say(name, amount) if language.says(name) else f"{label} {amount}"


def _measured(key: str, value: float | int | str | None, language: Language) -> tuple[str, str]:
    """What `key` measures, without its unit, and `value` with it."""
    if key.endswith(_SPEED):
        return _label(key, _SPEED), _amount(value, " mm/s", language)
    for ending, seconds in _SECONDS:
        if key.endswith(ending) and not key.endswith("_per_min"):
            return _label(key, ending), _lasting(value, seconds, language)
    for ending, name in _SPELT:
        if key.endswith(ending):
            return _label(key, ending), _amount(value, language.say(name), language)
    for ending, unit in _UNITS:
        if key.endswith(ending):
            return _label(key, ending), _amount(value, unit, language)
    unit = " °C" if key.rpartition("_")[2] in _TEMPERATURES else ""
    return _label(key, ""), _amount(value, unit, language)


def _label(key: str, ending: str) -> str:
    return key.removesuffix(ending).replace("_", " ").strip()


def _lasting(value: float | int | str | None, seconds: float, language: Language) -> str:
    if value is None or isinstance(value, str):
        return _amount(value, "", language)
    return duration(value * seconds, language)


def _amount(value: float | int | str | None, unit: str, language: Language) -> str:
    if value is None:
        return language.say("unknown.value")
    if isinstance(value, str):
        return shorten(language.said("values", value) or value, 100)
    if isinstance(value, bool):
        return language.say("unknown.yes" if value else "unknown.no")
    return number(value, language) + unit if math.isfinite(value) else language.say("unknown.value")


def number(value: float, language: Language = ENGLISH) -> str:
    """At most one decimal, none when it is 0."""
    if not math.isfinite(value):
        return "?"
    return f"{round(value, 1):.12g}".replace(".", language.say("number.decimal"))
