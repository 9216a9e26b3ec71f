"""The words of every message, one file a language: `en.toml`, `pt.toml`.

TOML and no code: whoever speaks a language can put its words right without knowing Python, and a slip of theirs breaks no
program text. What Python's types would hold (the same keys, the same gaps to fill, every alarm and every notice, the lengths)
the tests hold. In English an alarm's own words come from the alarm table, the one place for them.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from watchdog.core.alarms.alarm import Alarm

CODES = ("en", "pt")
"""after BCP 47"""
ALARM_WORDS = ("what", "action", "then", "consequence")
"""fields of a row of the alarm table that a language says in its own words"""

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Language:
    """All words of one language."""

    code: str
    phrases: Mapping[str, str]
    """by their dotted name in the file; ``{…}`` is filled in"""

    def say(self, name: str, /, *amount: str, **facts: str | int) -> str:
        """The phrase `name`, filled in. Raises KeyError when there is none, or a gap stays open."""
        return self.phrases[name].format(*amount, **facts)

    def says(self, name: str) -> bool:
        """Whether there is such a phrase."""
        return name in self.phrases

    def said(self, table: str, text: str) -> str | None:
        """`text`, one of a closed set of English ones, in this language; None when the set does not hold it. The numbers in it
        are carried over: ``purge 54 mm³`` is looked up as ``purge {n} mm³``."""
        numbers = _NUMBER.findall(text)
        phrase = self.phrases.get(f"{table}.{_NUMBER.sub('{n}', text)}")
        if phrase is None:
            return None
        for number in numbers:
            phrase = phrase.replace("{n}", number.replace(".", self.phrases["number.decimal"]), 1)
        return phrase

    def alarm(self, row: Alarm) -> Alarm:
        """`row` with its words in this language; as it is where this language has none for it."""
        fire = self.phrases["fact.fire"]

        def own(field: str, usual: str) -> str:
            return self.phrases.get(f"alarms.{row.name}.{field}", usual).replace("{fire}", fire)

        return replace(
            row,
            what=own("what", row.what),
            action=own("action", row.action),
            then=own("then", row.then),
            consequence=own("consequence", row.consequence),
        )


@cache
def language(code: str) -> Language:
    """The words of `code`, read once. Raises LookupError for a language that is not there."""
    if code not in CODES:
        raise LookupError(f"there are no words in {code!r}, only in {', '.join(CODES)}")
    text = files(__package__).joinpath(f"{code}.toml").read_text("utf-8")
    return Language(code, MappingProxyType(dict(_flat(tomllib.loads(text)))))


def _flat(table: Mapping[str, Any], place: str = "") -> Iterator[tuple[str, str]]:
    for name, held in table.items():
        if isinstance(held, dict):
            yield from _flat(held, f"{place}{name}.")
        else:
            yield f"{place}{name}", str(held)


ENGLISH = language("en")
