"""`python -m watchdog.simulator`: the demonstration machine on a pseudo-terminal."""

import argparse
import asyncio
import sys
from pathlib import Path

from watchdog.clock import Clock
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.pty_host import PtyMachine
from watchdog.simulator.script import DEEDS, BadScript, Event, read_deed, read_script
from watchdog.simulator.voices import FAMILIES


def arguments() -> argparse.ArgumentParser:
    """What can be asked for."""
    faults = "\n".join(f"  {name:22} {fault.summary}" for name, fault in FAULTS.items())
    parser = argparse.ArgumentParser(
        prog="python -m watchdog.simulator",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description="A simulated 3D printer on a pseudo-terminal. It is told what to do by a script or on stdin.",
        epilog=f"faults:\n{faults}\n\non stdin, a line each: {', '.join(DEEDS)} (with or without 'panel' before it), quit",
    )
    parser.add_argument("--link", type=Path, required=True, help="name that the terminal gets (a symbolic link)")
    parser.add_argument("--rate", type=float, default=1.0, help="seconds told per real second (default 1)")
    parser.add_argument("--family", choices=list(FAMILIES), default="A", help="how the controller speaks (default A)")
    parser.add_argument("--seed", type=int, default=0, help="of the noise (default 0)")
    parser.add_argument(
        "--job", type=Path, action="append", default=[], help="a job file for the card; may be repeated"
    )
    parser.add_argument("--unread", choices=["drop", "hold", "hang"], default="drop", help="output that nobody fetches")
    parser.add_argument("--resets-on-open", action="store_true", help="opening the port resets the board, as many do")
    parser.add_argument(
        "--unguarded", action="store_true", help="the controller does not protect itself, as old builds"
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--script", type=Path, help="what happens: lines like 'at 5 s start'")
    what.add_argument(
        "--fault",
        choices=list(FAULTS),
        help="let this go wrong: in a job that is started for it, or idle where it needs none",
    )
    parser.add_argument("--at", default="40%", help="when --fault strikes: '40%%' of the job, or '90 s' (default 40%%)")
    return parser


def events(options: argparse.Namespace, files: list[str]) -> tuple[Event, ...]:
    """The script to run. BadScript or OSError when it cannot be had."""
    if options.script is not None:
        return read_script(options.script.read_text(encoding="utf-8"))
    if options.fault is not None and not FAULTS[options.fault].in_job:
        return read_script(f"at {'5 s' if '%' in options.at else options.at} fault {options.fault}")
    if options.fault is not None:
        return read_script(f"at 2 s choose {files[0]}\nat 5 s start\nat {options.at} fault {options.fault}")
    return ()


async def live(pty: PtyMachine) -> None:
    """Run the machine, and obey stdin until it says quit."""
    async with asyncio.TaskGroup() as group:
        running = group.create_task(pty.run(), name="machine")
        reader = asyncio.StreamReader()
        await asyncio.get_running_loop().connect_read_pipe(lambda: asyncio.StreamReaderProtocol(reader), sys.stdin)
        while line := (await reader.readline()).decode("utf-8", "replace"):
            if line.strip() == "quit":
                running.cancel()
                return
            if not line.strip():
                continue
            try:
                pty.do(*read_deed(line))
            except BadScript as mistake:
                print(f"not understood: {mistake}", flush=True)
            except KeyError as missing:
                print(f"not on the card: {missing.args[0]}", flush=True)


def main(argv: list[str] | None = None) -> int:
    """The command."""
    parser = arguments()
    options = parser.parse_args(argv)
    if not 0 < options.rate <= 100_000:
        parser.error("--rate: more than 0 and at most 100000")
    try:
        files = [(path.name, path.read_bytes()) for path in options.job]
        files = files or [(name, make()) for name, make in SAMPLES.items()]
        script = events(options, [name for name, _ in files])
    except (OSError, BadScript) as mistake:
        print(mistake, file=sys.stderr)
        return 2
    kind = Options(family=options.family, files=tuple(files), guards=not options.unguarded)
    machine = SimulatedMachine(kind, options.seed)

    async def host() -> None:
        pty = PtyMachine(
            machine,
            clock=Clock(options.rate),
            script=script,
            link=options.link,
            unread=options.unread,
            resets_on_open=options.resets_on_open,
            tell=lambda at, what: print(f"{at:.1f} s {what}", flush=True),
        )
        print(f"0.0 s ready: {pty.path}", flush=True)
        await live(pty)

    try:
        asyncio.run(host())
    except KeyboardInterrupt:
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main())
