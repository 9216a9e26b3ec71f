"""`label`: what became of a job, an incident or an alarm; alone, a walk through all that nobody has judged."""

import argparse
from typing import Any

from watchdog.cli import walk
from watchdog.cli.about import label_words
from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, say
from watchdog.cli.entering import enter, log_settings
from watchdog.record.faults import RecordUnusable
from watchdog.record.term_rows import LabelNow, Result, Usefulness

_PARTS = ("outcome", "cause", "origin", "remedy", "note", "useful")


def run(asked: argparse.Namespace) -> int:
    """Enter one label, or walk."""
    try:
        said = {part: getattr(asked, part) for part in _PARTS}
        if asked.id:
            return _one(asked, " ".join(asked.id), said)
        if any(part is not None for part in said.values()):
            raise Stop(
                USAGE, "say what it is about: emberward label j41 --outcome failed. `emberward jobs` lists jobs."
            )
        settings = log_settings(asked)
        return walk.walk(settings, asked.machine, lambda about, words: put(asked, about, words))
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except RecordUnusable as unusable:
        complain(str(unusable))
        return FOUND_WRONG


def put(asked: argparse.Namespace, about: str, said: dict[str, Any]) -> LabelNow:
    """Enter a label; what holds of its subject from now on."""
    answer = enter(asked, do="label", about=about, **said)
    now = answer["now"]
    outcome, useful = now["outcome"], now["usefulness"]
    return LabelNow(
        None if outcome is None else Result(outcome),
        now["cause"],
        now["origin"],
        now["remedy"],
        now["note"],
        None if useful is None else Usefulness(useful),
    )


def _one(asked: argparse.Namespace, about: str, said: dict[str, Any]) -> int:
    now = put(asked, about, said)
    say(f"{about}: {label_words(now)}. What was said before is kept.")
    return DONE
