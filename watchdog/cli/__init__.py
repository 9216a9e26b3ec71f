"""The command line. Exit status: 0 done · 1 the command found something wrong · 2 usage or settings."""

import argparse
import importlib
import sys
from collections.abc import Sequence
from pathlib import Path

from watchdog import __version__
from watchdog.cli import log_parser

CAUTION = (
    "Emberward is advisory. It is no safety device, fire alarm or interlock, it switches no heater off, and a missing alert "
    "means nothing. In smoke or fire: evacuate and call the fire service."
)


def parser() -> argparse.ArgumentParser:
    """Every command with its options."""
    top = argparse.ArgumentParser(
        prog="emberward",
        description="Stands beside a shared 3D printer and tells the right person when it needs one.",
        epilog=CAUTION,
    )
    top.add_argument("--version", action="version", version=f"emberward {__version__}")
    commands = top.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def command(name: str, help_text: str, module: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=help_text, description=help_text, epilog=CAUTION)
        made.set_defaults(module=f"watchdog.cli.{module}")
        return made

    def config(to: argparse.ArgumentParser) -> None:
        to.add_argument(
            "--config", type=Path, metavar="FILE", help="settings; default: the system's, else the user's file"
        )

    def as_json(to: argparse.ArgumentParser) -> None:
        to.add_argument("--json", action="store_true", help="for programs: JSON")

    watch = command("watch", "Watch the machines: the service.", "watch")
    config(watch)
    watch.add_argument(
        "--check", action="store_true", help="read the settings, say whether they are good, start nothing"
    )

    watch.add_argument(
        "--rate",
        type=float,
        default=1.0,
        metavar="N",
        help="for a simulated machine that runs N times as fast: seconds told per real second (default 1)",
    )

    demo = command("demo", "Show a simulated machine, watched by the real service, with faults.", "demo")
    demo.add_argument(
        "--rate", type=float, default=60.0, metavar="N", help="seconds shown per real second (default 60)"
    )
    demo.add_argument("--keep", type=Path, metavar="FOLDER", help="keep the demonstration's log and recording there")

    replay = command("replay", "Run recordings through the same core; tells nobody.", "replay")
    replay.add_argument("files", nargs="+", type=Path, metavar="FILE", help="a .traffic recording, also .gz")
    config(replay)
    replay.add_argument("--jobs", type=Path, metavar="DIR", help="folder of the job files, to watch with their plans")
    replay.add_argument("--machine", metavar="NAME", help="watch as this machine of the settings")
    as_json(replay)

    check = command("check", "Before a job is started: duration, finish, filament, and faults in its file.", "check")
    check.add_argument("files", nargs="+", type=Path, metavar="JOBFILE")
    check.add_argument("--start", metavar="TIME", help="when it would start: 14:05, or 2026-03-02T14:05; default: now")
    check.add_argument("--machine", metavar="NAME", help="plan it for this machine of the settings")
    check.add_argument("--plot", type=Path, metavar="FILE", help="draw the plan (.svg, .png or .pdf)")
    config(check)
    as_json(check)

    status = command(
        "status", "What each machine does, which alarms stand, and whether the watch itself is well.", "status"
    )
    config(status)
    as_json(status)

    incidents = command("incidents", "The incident log, newest first.", "incidents")
    config(incidents)
    as_json(incidents)
    log_parser.narrowed(incidents, _count)
    incidents.add_argument("--alarm", metavar="ALARM")
    log_parser.labelled(incidents)

    show = command("show", "One incident in full: what stood, who was told, what the machine said.", "show")
    show.add_argument(
        "id",
        metavar="ID",
        help="an incident's number, machine/alarm for one that stands, a77 for an alarm, j41 for a job",
    )
    log_parser.drawn(show)
    show.add_argument("--lines", type=_count, default=40, metavar="N", help="raw lines around it (default 40)")
    config(show)
    as_json(show)

    acknowledge = command("acknowledge", "Take an alarm on: it stops insisting.", "answer")
    acknowledge.add_argument(
        "id", metavar="ID", help="an incident's number, machine/alarm, or an alarm that stands once"
    )
    acknowledge.add_argument("--by", metavar="ROLE", help="who takes it on; default: this account")
    config(acknowledge)

    shelve = command("shelve", "Silence an alarm for a bounded time; it is still evaluated and logged.", "answer")
    shelve.add_argument("alarm", metavar="ALARM", help="machine/alarm, or an alarm of the only machine")
    shelve.add_argument(
        "--for", dest="duration", required=True, metavar="DURATION", help='"45 min", "2 h"; at most a day'
    )
    shelve.add_argument("--reason", default="", metavar="TEXT", help="why, for whoever comes next: it has to be said")
    shelve.add_argument("--by", metavar="ROLE")
    config(shelve)

    unshelve = command("unshelve", "End a shelving early.", "answer")
    unshelve.add_argument("alarm", metavar="ALARM")
    unshelve.add_argument("--by", metavar="ROLE")
    config(unshelve)

    expect = command(
        "expect", "Say how long the present job should take, so that it can be told when it is late.", "answer"
    )
    expect.add_argument("duration", metavar="DURATION", help='the whole job, pauses not included: "38 min"')
    expect.add_argument("--machine", metavar="NAME", help="which machine, if there are several")
    config(expect)

    allow = command(
        "allow", "Let the present job run on after the supervised hours, and say who looks after it.", "answer"
    )
    allow.add_argument("--stays", metavar="ROLE", help="who stays with it; default: who allows it")
    allow.add_argument("--by", metavar="ROLE")
    allow.add_argument("--machine", metavar="NAME", help="which machine, if there are several")
    config(allow)

    repair = command(
        "repair", "Take a machine out of service for a bounded time: only urgent alarms are told.", "answer"
    )
    repair.add_argument("--for", dest="duration", metavar="DURATION", help='"45 min", "2 h"; at most 14 days')
    repair.add_argument("--end", action="store_true", help="back in service now")
    repair.add_argument("--reason", default="", metavar="TEXT", help="why, for whoever comes next: it has to be said")
    repair.add_argument("--by", metavar="ROLE")
    repair.add_argument("--machine", metavar="NAME", help="which machine, if there are several")
    config(repair)

    forget = command("forget", "Forget what a machine's own jobs have taught: durations and habits.", "answer")
    forget.add_argument("machine", nargs="?", metavar="NAME", help="which machine, if there are several")
    forget.add_argument("--by", metavar="ROLE")
    config(forget)

    log_parser.add(command, config, as_json, _count)

    review = command(
        "review", "A term in figures: what worked, what failed and why, and what to change. Nobody is named.", "review"
    )
    review.add_argument(
        "--from", "--since", dest="since", metavar="DATE", help="its first day; default: 14 weeks before the last"
    )
    review.add_argument("--to", "--until", dest="until", metavar="DATE", help="its last day; default: today")
    review.add_argument("--html", type=Path, metavar="FILE", help="write one printable page")
    review.add_argument("--export", type=Path, metavar="DIR", help="work it out from what `export` wrote there")
    config(review)
    as_json(review)

    test = command(
        "test-alert",
        "Send a marked test message along each route and say what arrived where it can know.",
        "test_alert",
    )
    test.add_argument("person", nargs="?", metavar="PERSON", help="one person only")
    config(test)
    as_json(test)
    return top


def _count(written: str) -> int:
    """For argparse: a whole number from 0."""
    if not (written.isascii() and written.isdecimal() and len(written) <= 9):
        raise argparse.ArgumentTypeError(f"{written!r} is no whole number from 0 to 999999999")
    return int(written)


def run(arguments: Sequence[str]) -> int:
    """Carry out one command; returns the exit status."""
    asked = parser().parse_args(arguments)
    try:
        return int(importlib.import_module(asked.module).run(asked))
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the reader of our output has gone: `emberward … | head`
        sys.stderr.close()
        return 0
