"""What a school hands to the watch: lessons, holidays and duties as iCalendar files (RFC 5545), and the settings."""

from datetime import UTC, date, datetime, timedelta
from functools import partial
from pathlib import Path

_LESSONS = (("MO,TU,WE,TH", ("1300", "1450", "1640", "1830")), ("FR", ("1000", "1150", "1340")), ("SA", ("1000",)))
_DAYS = {"MO": 0, "TU": 1, "WE": 2, "TH": 3, "FR": 4, "SA": 5}


def settings(folder: Path) -> str:
    """The settings of a house whose things all lie in `folder`."""
    return _SETTINGS.format(folder=folder)


def calendars(first: date, zone: str, holidays: tuple[date, ...]) -> dict[str, str]:
    """Lessons, holidays and the Tuesdays' tutor, each as an iCalendar file."""
    event = partial(_event, zone=zone, holidays=holidays)
    lessons = [
        event(f"{by}-{at}", first + timedelta(days=_DAYS[by[:2]]), at, 90, by, "Lesson")
        for by, times in _LESSONS
        for at in times
    ]
    closed = [
        f"BEGIN:VEVENT\r\nUID:closed-{day}\r\nDTSTART;VALUE=DATE:{day:%Y%m%d}\r\nSUMMARY:Public holiday\r\nEND:VEVENT\r\n"
        for day in holidays
    ]
    tutor = [event("tutor", first + timedelta(days=1), "1700", 240, "TU", "Evening tutor")]
    return {"lessons.ics": _calendar(lessons), "holidays.ics": _calendar(closed), "tuesdays.ics": _calendar(tutor)}


def _calendar(events: list[str]) -> str:
    return "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Tidewater Evening College//term//EN\r\n" + "".join(
        [*events, "END:VCALENDAR\r\n"]
    )


def _event(
    uid: str, day: date, at: str, minutes: int, by: str, summary: str, *, zone: str, holidays: tuple[date, ...]
) -> str:
    begins = datetime.combine(day, datetime.strptime(at, "%H%M").replace(tzinfo=UTC).time())
    without = "".join(
        f"EXDATE;TZID={zone}:{day:%Y%m%d}T{at}00\r\n"
        for day in holidays
        if by[:2] != "SA" and day.strftime("%a").upper()[:2] in by
    )
    return (
        f"BEGIN:VEVENT\r\nUID:{uid}\r\nDTSTART;TZID={zone}:{begins:%Y%m%dT%H%M%S}\r\nDURATION:PT{minutes}M\r\n"
        f"RRULE:FREQ=WEEKLY;BYDAY={by}\r\n{without}SUMMARY:{summary}\r\nEND:VEVENT\r\n"
    )


_SETTINGS = """\
# Tidewater Evening College (made up), a simulated autumn term. Nothing is sent to anybody.
zone = "Europe/Lisbon"
jobs = "{folder}/jobs"
filament_price = 21.00

[places]
state = "{folder}"

[review]
sheet_price = 6.50

[hours]
mon = ["13:00-21:00"]
tue = ["13:00-21:00"]
wed = ["13:00-21:00"]
thu = ["13:00-21:00"]
fri = ["10:00-16:00"]
sat = ["10:00-13:00"]

[calendars.lessons]
means = "lessons"
file = "{folder}/lessons.ics"
[calendars.holidays]
means = "holidays"
file = "{folder}/holidays.ics"
[calendars.tuesdays]
means = "duty"
file = "{folder}/tuesdays.ics"
person = "evening-tutor"

[machines.doorway-1]
material = "PLA"
poll = "5 s"
learn = true
motion = {{ homing = "24 s" }}

[machines.loft-1]
source = "log"
log = "{folder}/loft-1.traffic"
material = "PLA"
motion = {{ homing = "24 s" }}

[sensors.loft-1-wheel]
machine = "loft-1"
kind = "filament-motion"
topic = "workshop/loft-1/filament"
scale = 2.88

[routes.lead-phone]
url = "jsons://push.example.org/workshop-lead"
[routes.desk-mail]
url = "jsons://mail.example.org/desk"
[routes.tutor-phone]
url = "jsons://push.example.org/evening-tutor"
[routes.caretaker-sms]
url = "jsons://sms.example.org/caretaker"
brief = true

[people.workshop-lead]
routes = ["lead-phone"]
[people.duty-warden]
routes = ["desk-mail"]
told = ["urgent", "high"]
[people.evening-tutor]
routes = ["tutor-phone"]
[people.caretaker]
routes = ["caretaker-sms"]
told = ["urgent"]

[routing]
outside = ["caretaker"]
"""
