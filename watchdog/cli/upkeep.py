"""`done` and `sheet`: what was seen to, and build surfaces."""

import argparse
import json

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, say
from watchdog.cli.entering import enter, log_settings
from watchdog.cli.plain import plain, when
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.record.term_rows import SheetRow
from watchdog.review.sheet_life import FEWEST, Ages, ages, estimate
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller
from watchdog.statistics.survival import Life


def run(asked: argparse.Namespace) -> int:
    """Enter it, or show the sheets."""
    try:
        if asked.command == "done":
            return _done(asked)
        return _sheets(asked) if asked.what is None else _sheet(asked)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except RecordUnusable as unusable:
        complain(str(unusable))
        return FOUND_WRONG


def _done(asked: argparse.Namespace) -> int:
    answer = enter(asked, do="done", item=asked.item, machine=asked.machine, note=asked.note)
    say(f"{answer['machine']}: {answer['item']} was seen to; its counter begins anew. What was done before is kept.")
    if answer["item"] == "build-surface":
        say("If another sheet is on: emberward sheet new")
    return DONE


def _sheet(asked: argparse.Namespace) -> int:
    answer = enter(asked, do="sheet", what=asked.what, machine=asked.machine, why=asked.why, note=asked.note)
    machine, borne = answer["machine"], answer["jobs"]
    before = "" if borne is None else f"; the one before bore {borne} job{'s' if borne != 1 else ''}"
    if asked.what == "new":
        say(f"{machine}: sheet {answer['sheet']} is on{before}")
    elif answer["off"]:
        say(f"{machine}: the sheet is off{before.replace('the one before', 'it')}")
    else:
        raise Stop(FOUND_WRONG, f"{machine}: no sheet was on, by what was entered. Enter one: emberward sheet new")
    return DONE


def _sheets(asked: argparse.Namespace) -> int:
    if asked.why is not None or asked.at is not None or asked.note is not None:
        raise Stop(USAGE, "say what became of the sheet: `sheet new` or `sheet off`.")
    settings = log_settings(asked)
    zone = zone_of(settings)
    with Reader.read(of_caller(settings.places).record) as record, record.one_moment():
        sheets = record.sheets(asked.machine)
        found = ages(sheets, record.jobs(machine=asked.machine, limit=None))
    life = estimate(found)
    if asked.json:
        facts = {"sheets": sheets, "lives_ended": len(found.ended), "still_lasting": len(found.lasting), "jobs": life}
        say(json.dumps(plain(facts), ensure_ascii=False))
        return DONE
    on = [sheet for sheet in sheets if sheet.ended is None]
    for sheet in on:
        say(f"{sheet.machine}  sheet {sheet.id}, on since {when(sheet.started, zone)}, has borne {_jobs(sheet.jobs)}")
    if not on:
        say("no sheet is on, by what was entered. Enter one: emberward sheet new")
    past: list[SheetRow] = [sheet for sheet in sheets if sheet.ended is not None]
    for sheet in past[-10:]:
        why = f", {sheet.why}" if sheet.why else ""
        say(f"{sheet.machine}  sheet {sheet.id}, until {when(sheet.ended or 0.0, zone)}, bore {_jobs(sheet.jobs)}{why}")
    say(life_words(found, life))
    return DONE


def life_words(found: Ages, life: Life | None) -> str:
    """How long a sheet lasts, with how sure that is."""
    known = (
        f"{len(found.ended)} worn-out sheets and {len(found.lasting)} that lasted at least as long as they were used"
    )
    if life is None:
        return f"how long a sheet lasts cannot be told yet: it takes {FEWEST} worn-out ones ({known})"
    if life.middle is None:
        return f"more than half of the sheets outlast what was seen so far ({known})"
    low = "0" if life.low is None else f"{life.low:.0f}"
    high = "no upper bound yet" if life.high is None else f"{life.high:.0f}"
    return f"half of the sheets are worn out after {life.middle:.0f} jobs (95 %: {low} to {high}; {known})"


def _jobs(count: int) -> str:
    return f"{count} job{'s' if count != 1 else ''}"
