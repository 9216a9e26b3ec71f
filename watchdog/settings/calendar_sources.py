"""The calendars of the settings as the options of their room, and what must hold between their settings."""

import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from watchdog.core.timetable import Kind
from watchdog.settings.addresses import NOT_HANDED, open_to_others
from watchdog.settings.calendars import Calendar
from watchdog.settings.fill import week_of, zone_of
from watchdog.settings.model import Settings
from watchdog.settings.network import proxy_for
from watchdog.settings.origin import Written
from watchdog.settings.problems import Problem, nearest, shown
from watchdog.timetable import options

_KINDS = {
    "supervised": Kind.SUPERVISED,
    "lessons": Kind.LESSON,
    "breaks": Kind.BREAK,
    "duty": Kind.DUTY,
    "closed": Kind.CLOSED,
    "holidays": Kind.HOLIDAY,
}
_ADDRESS = re.compile(r"(https?|webcals?)://[^\s/]\S*\Z", re.IGNORECASE)
_PROXY = re.compile(r"https?://[^\s/]\S*\Z", re.IGNORECASE)
_PLACES = ("file", "url", "url_file", "credential")
_LONGEST = 8192  # characters of an address


class NoCalendar(Exception):
    """An address is not where it should be. The message says why, and holds nothing of it."""


def calendars_of(settings: Settings, copies: Path | None, *, keep: bool = True) -> options.Options:
    """All calendars. `copies`: folder of the last good ones; `keep` false: they are only read. Raises NoCalendar when an
    address can no longer be read."""
    every = tuple(_one(name, calendar, settings) for name, calendar in settings.calendars.items())
    return options.Options(zone_of(settings), week_of(settings), every, copies, keep)


def _one(name: str, told: Calendar, settings: Settings) -> options.Calendar:
    kind = _KINDS[told.means]
    duty = kind is Kind.DUTY
    meaning = options.Meaning(
        kind,
        told.person if duty else None,
        tuple(told.people.items()) if duty else (),
        tuple(settings.people) if duty else (),
    )
    where = None if told.file is not None else address(told)
    proxy = None if where is None else proxy_for(settings.network, where)
    if told.proxy is not None:
        proxy = told.proxy.get_secret_value().strip()
    root = told.root_certificate or settings.network.root_certificate
    source = options.Source(told.file, where, proxy, None if where is None else root)
    return options.Calendar(name, source, meaning, told.every)


def address(told: Calendar, environment: Mapping[str, str] = os.environ) -> str:
    """The calendar's address. Raises NoCalendar when it is not there, cannot be read or is none."""
    if told.url is not None:
        text = told.url.get_secret_value()
    elif told.url_file is not None:
        text = _content(told.url_file)
    elif (folder := environment.get("CREDENTIALS_DIRECTORY")) is not None:
        text = _content(Path(folder) / str(told.credential))
    else:
        raise NoCalendar(NOT_HANDED)
    if not _ADDRESS.match(text.strip()) or len(text) > _LONGEST:
        raise NoCalendar("it is no address of a calendar. Write one on one line: https://…, http://… or webcal://…")
    return text.strip()


def of_written(written: Written) -> Iterator[Problem]:
    """Judges what is written, whether or not every value is right by itself."""
    tables, people = _tables(written.merged.get("calendars")), _tables(written.merged.get("people"))
    for name, calendar in tables.items():
        here = ["calendars", name]
        given = [place for place in _PLACES if place in calendar]
        if len(given) != 1:
            found = f"there are {' and '.join(given)}" if given else "it comes from nowhere"
            yield Problem(written.place(here), f"{found}. Give exactly one of file, url, url_file and credential.")
        if calendar.get("means") == "duty":
            words = calendar.get("people", {})
            named = [(["person"], calendar["person"])] if "person" in calendar else []
            if isinstance(words, Mapping):
                named += [(["people", word], person) for word, person in words.items()]
                if named and words and "person" in calendar:
                    yield Problem(
                        written.place([*here, "people"]), "person is set, so no event's name counts. Take one out."
                    )
                for word in words:
                    if not word.strip():
                        yield Problem(
                            written.place([*here, "people"]),
                            "a word is empty. Write one that stands in an event's name.",
                        )
            for where, person in named:
                if isinstance(person, str) and person not in people:
                    hint = nearest(person, people) if people else "Add a table [people.NAME]."
                    yield Problem(written.place([*here, *where]), f"there is no person {shown(person)}. {hint}")
            if not people and not named:
                yield Problem(written.place(here), "duty needs somebody who can be told. Add a table [people.NAME].")
        else:
            for setting in ("person", "people"):
                if setting in calendar:
                    yield Problem(written.place([*here, setting]), 'belongs to means = "duty" alone. Take it out.')


def problems(written: Written, settings: Settings, *, handed: bool) -> Iterator[Problem]:
    """Addresses that are missing or no addresses, or that others on this computer can read.

    `handed`: False passes credentials over that only the service gets from systemd.
    """
    for name, told in settings.calendars.items():
        if told.proxy is not None and not _PROXY.match(told.proxy.get_secret_value().strip()):
            yield Problem(written.place(["calendars", name, "proxy"]), "is no proxy's address. Write http://HOST:PORT.")
        given = [place for place in _PLACES if getattr(told, place) is not None]
        if len(given) != 1 or given == ["file"]:
            continue  # told by `of_written`; a file may come and go
        if given == ["credential"] and not handed and "CREDENTIALS_DIRECTORY" not in os.environ:
            continue
        place = written.place(["calendars", name, given[0]])
        try:
            address(told)
        except NoCalendar as none:
            yield Problem(place, f"the address cannot be used: {none}.")
        if told.url_file is not None and open_to_others(told.url_file):
            yield Problem(place, f"others on this computer can read the address. Do: chmod 600 {told.url_file}")


def _tables(written: object) -> dict[str, Mapping[str, Any]]:
    """The tables in `written`; what is none is told elsewhere."""
    if not isinstance(written, Mapping):
        return {}
    return {name: table for name, table in written.items() if isinstance(table, Mapping)}


def _content(file: Path) -> str:
    try:
        with file.open(encoding="utf-8") as opened:
            return opened.read(_LONGEST + 1)
    except OSError as wrong:
        raise NoCalendar(f"{file}: {wrong.strerror or type(wrong).__name__}") from None
    except UnicodeDecodeError:
        raise NoCalendar(f"{file}: is no text in UTF-8") from None
