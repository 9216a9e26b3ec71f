"""The options of the commands that enter into the incident log and read it by jobs."""

import argparse
from collections.abc import Callable
from pathlib import Path

from watchdog.review.sheet_life import OTHER, WORN
from watchdog.settings.review import ORIGINS

Make = Callable[[str, str, str], argparse.ArgumentParser]
Adds = Callable[[argparse.ArgumentParser], None]

SAID = ("good", "failed", "unknown")
USEFUL = ("useful", "nuisance", "late")
_AT = "when it was done: 14:05, or 2026-03-02T14:05; default: now"
_ABOUT = (
    "j41 or 'job 41': a job, as `jobs` numbers them; 12: an incident; a77: an alarm, as `show` numbers them; "
    "doorway-1/hot-idle: its latest. Left out: all that nobody has judged yet, newest first, by single keys"
)


def narrowed(to: argparse.ArgumentParser, count: Callable[[str], int]) -> None:
    """Which machine, and which time."""
    to.add_argument("--machine", metavar="NAME")
    to.add_argument("--since", metavar="DATE", help="2026-03-02, or 2026-03-02T09:00")
    to.add_argument("--until", metavar="DATE")
    to.add_argument("--limit", type=count, default=50, metavar="N", help="at most N (default 50)")


def drawn(show: argparse.ArgumentParser) -> None:
    """How an incident is drawn."""
    show.add_argument("--svg", type=Path, metavar="FILE", help="draw an incident into FILE instead")
    show.add_argument("--ascii", action="store_true", help="draw in plain ASCII, where the terminal takes nothing else")


def labelled(incidents: argparse.ArgumentParser) -> None:
    """What people said."""
    incidents.add_argument("--cause", metavar="CAUSE", help="as labelled, also of a job that ran then")
    incidents.add_argument("--label", choices=(*SAID, *USEFUL), help="as labelled, also of a job that ran then")


def add(command: Make, config: Adds, as_json: Adds, count: Callable[[str], int]) -> None:
    """Every command of the log but `incidents` and `show`."""

    def said(to: argparse.ArgumentParser, *, when: bool = True) -> None:
        to.add_argument("--by", metavar="ROLE", help="who says so; default: this account")
        if when:
            to.add_argument("--at", metavar="TIME", help=_AT)
            to.add_argument("--note", metavar="TEXT")
        config(to)

    def machine(to: argparse.ArgumentParser) -> None:
        to.add_argument("--machine", metavar="NAME", help="which machine, if there are several")

    jobs = command("jobs", "The jobs that were seen, newest first, and what people say of them.", "jobs")
    narrowed(jobs, count)
    config(jobs)
    as_json(jobs)

    label = command("label", "Say what became of a job, an incident or an alarm. A later word corrects it.", "label")
    label.add_argument("id", nargs="*", metavar="ID", help=_ABOUT)
    label.add_argument("--outcome", choices=SAID, help="of the part")
    label.add_argument("--cause", metavar="CAUSE", help="one of [review] causes in the settings")
    label.add_argument("--origin", choices=ORIGINS, help="default: as the settings have it for the cause")
    label.add_argument("--remedy", metavar="TEXT", help="what helped")
    label.add_argument("--note", metavar="TEXT")
    label.add_argument("--useful", choices=USEFUL, help="of an alarm")
    label.add_argument("--machine", metavar="NAME", help="walk through this machine's only")
    said(label, when=False)

    due = command("due", "What is due on the machines: build surface, lubrication, nozzle and the like.", "due")
    due.add_argument("--machine", metavar="NAME")
    config(due)
    as_json(due)

    done = command("done", "Something was seen to: its counter begins anew, and the history is kept.", "upkeep")
    done.add_argument("item", metavar="ITEM", help="as `due` names it")
    machine(done)
    said(done)

    sheet = command("sheet", "The build surface: what it has borne, and how long one lasts.", "upkeep")
    sheet.add_argument("what", nargs="?", choices=("new", "off"), help="another one is on; it was taken off")
    sheet.add_argument("--why", choices=sorted(WORN | OTHER), help="why the one before came off")
    machine(sheet)
    said(sheet)
    as_json(sheet)

    spool = command("spool", "The spool: what is left on it, and what the running job still needs.", "spool")
    spool.add_argument("what", nargs="?", choices=("load", "weigh", "measure", "off"))
    spool.add_argument("amount", nargs="?", type=float, metavar="N", help="weigh: g with the spool; measure: mm")
    spool.add_argument("--material", metavar="NAME", help="load: default: as the settings have it")
    spool.add_argument("--grams", type=float, metavar="G", help="load: g of filament on it")
    spool.add_argument("--empty", type=float, metavar="G", help="load: g of the empty spool, so that it can be weighed")
    spool.add_argument("--diameter", type=float, metavar="MM", help="load: as measured")
    machine(spool)
    said(spool)
    as_json(spool)

    export = command("export", "Every table of the record as CSV and JSON Lines, from one moment.", "export")
    export.add_argument("folder", type=Path, metavar="DIR", help="a new or an empty folder")
    config(export)
