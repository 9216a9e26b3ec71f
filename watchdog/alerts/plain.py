"""Times, durations and evidence in plain words."""

import math
import re
from datetime import datetime, tzinfo

from watchdog.core.finding import Evidence

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

FILE_KEYS = frozenset({"file", "file_name", "filename", "short", "long", "job", "path"})
"""evidence that names a job file; file names hold pupils' names"""

PERSON_KEYS = frozenset({"by", "who", "person", "people", "requester", "name", "owner"})
"""evidence that can name somebody; never told"""

_TWICE = frozenset({"purge_mm3"})
"""told already, inside the advice"""

SPOKEN_KEYS = frozenset({"text", "said", "words", "message", "prompt", "line"})
"""evidence in the machine's own words, which a job file can put there (a display text holds what its maker liked)"""

_TEMPERATURES = frozenset({"nozzle", "bed", "target", "temperature", "gap", "drop", "rise", "jump", "heat", "hottest"})

_UNITS = (
    ("_per_min", " a minute"),
    ("_percent", " %"),
    ("_pct", " %"),
    ("_bytes", " bytes"),
    ("_mm", " mm"),
    ("_mg", " mg"),
    ("_celsius", " °C"),
    ("_c", " °C"),
)
_SECONDS = (("_seconds", 1.0), ("_s", 1.0), ("_minutes", 60.0), ("_min", 60.0), ("_hours", 3600.0), ("_h", 3600.0))

_PHRASES = {
    "advice": "advice: {}",
    "allowed_s": "allowed {}",
    "bound_s": "late after {}",
    "cause": "its own reason: {}",
    "dose_min": "heat dose {}",
    "expected_by": "by the {}",
    "gone_for_s": "connection gone for {}",
    "heater": "heater: {}",
    "kind": "the machine reports: {}",
    "last_s": "last {} ago",
    "power": "heater output {}",
    "progress": "at byte or line {}",
    "reasons": "{}",
    "sensor": "sensor: {}",
    "since_s": "began {} ago",
    "size": "of {} in all",
    "still_for_s": "no progress for {}",
    "taken_s": "takes {} so far",
    "unanswered": "{} queries unanswered",
    "unheard_for_s": "nothing heard for {}",
    "why": "the reading {}",
}
"""evidence that a label alone would leave unclear"""

_FILE_LIKE = re.compile(
    r"~\d|[/\\]|\.(?:g|gc|gco|gcode|bgcode|nc|ngc|tap|txt|stl|3mf)\b|\bfile\b|\bprinting\b", re.IGNORECASE
)


def clock_time(stamp: float, zone: tzinfo, now: float) -> str:
    """Local time as ``09:31``, with the day before it (``2 Mar 09:31``) when that is not today."""
    there, here = datetime.fromtimestamp(stamp, zone), datetime.fromtimestamp(now, zone)
    day = "" if there.date() == here.date() else f"{there.day} {_MONTHS[there.month - 1]} "
    return f"{day}{there:%H:%M}"


def zone_name(stamp: float, zone: tzinfo) -> str:
    """What the zone calls itself at that time: tells the two equal hours at the end of summer time apart."""
    return datetime.fromtimestamp(stamp, zone).tzname() or ""


def duration(seconds: float) -> str:
    """``45 s``, ``10 min``, ``1 h 30 min``, ``2 days``. Negative counts as none."""
    if not math.isfinite(seconds):
        return "not known"
    whole = max(0, round(seconds))
    if whole < 120 and whole % 60:
        return f"{whole} s"
    minutes = round(whole / 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 24:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days = round(whole / 86400)
    return "1 day" if days == 1 else f"{days} days"


def shorten(text: str, room: int) -> str:
    """`text` in at most `room` characters, on one line; a cut is shown by ``…``."""
    text = " ".join(text.split())
    if len(text) <= room:
        return text
    return text[: max(0, room - 1)].rstrip(" ,;:.") + "…" if room > 0 else ""


def seen(evidence: Evidence, *, show_files: bool) -> tuple[str, ...]:
    """The evidence as short phrases with units: ``nozzle 205 °C``. Whatever names a person is left out, always;
    whatever names or may name a file is left out unless `show_files`."""
    phrases = []
    for key, value in evidence.items():
        bare = key.lower()
        if bare in PERSON_KEYS or bare in _TWICE or (bare in FILE_KEYS and not show_files):
            continue
        if isinstance(value, str) and not show_files and (bare in SPOKEN_KEYS or _FILE_LIKE.search(value)):
            continue
        phrases.append(_phrase(bare, value))
    return tuple(phrases)


def _phrase(key: str, value: float | int | str | None) -> str:
    label, amount = _measured(key, value)
    if key in _PHRASES and value is not None:
        return _PHRASES[key].format(amount)
    return f"{label} {amount}"


def _measured(key: str, value: float | int | str | None) -> tuple[str, str]:
    """What `key` measures, without its unit, and `value` with it."""
    for ending, seconds in _SECONDS:
        if key.endswith(ending):
            return _label(key, ending), _lasting(value, seconds)
    for ending, unit in _UNITS:
        if key.endswith(ending):
            return _label(key, ending), _amount(value, unit)
    unit = " °C" if key.rpartition("_")[2] in _TEMPERATURES else ""
    return _label(key, ""), _amount(value, unit)


def _label(key: str, ending: str) -> str:
    return key.removesuffix(ending).replace("_", " ").strip()


def _lasting(value: float | int | str | None, seconds: float) -> str:
    if value is None or isinstance(value, str):
        return _amount(value, "")
    return duration(value * seconds)


def _amount(value: float | int | str | None, unit: str) -> str:
    if value is None:
        return "not known"
    if isinstance(value, str):
        return shorten(value, 100)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return number(value) + unit if math.isfinite(value) else "not known"


def number(value: float) -> str:
    """At most one decimal, none when it is 0."""
    return f"{round(value, 1):.12g}" if math.isfinite(value) else "?"
