"""The folder of job files: each file is planned once it has stopped growing, off the event loop, and never twice.

Plain looks every few seconds, with size and time of change: a folder of a school holds hundreds of files, not thousands, and
a look costs less than a watcher's thread. A file still being copied is left until two looks find it the same.

A file is planned for what the machine itself lists of its speeds and accelerations, else for what the settings say; when the
machine lists something else, everything is planned anew for it.
"""

import asyncio
import hashlib
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, NamedTuple

from watchdog.clock import Clock
from watchdog.core import commands
from watchdog.core.observations import Setting
from watchdog.core.outlook import JobFile
from watchdog.core.plan import Plan, from_bytes
from watchdog.jobfile.commands import commands_of
from watchdog.jobfile.errand import PlanTrouble
from watchdog.jobfile.machine_limits import MachineLimits, from_settings_lines
from watchdog.jobfile.planning import plan_file

ENDINGS = {".gcode", ".gco", ".g", ".nc"}
EVERY = 5.0  # s between two looks
MOST_FILES = 2000  # newest first; a folder that holds more is an archive
MOST_KEPT = 1000  # plans kept on the disk, some 10 KB each; and as many files' commands, some 20 KB each
_PIECE = 1 << 20

Found = Callable[[str, tuple[JobFile, ...]], None]
"""Takes a machine's name and all its planned files."""


class Seen(NamedTuple):
    """What tells that a file has not changed."""

    size: int
    changed: int
    """ns"""


class JobFolder:
    """Follows one folder for all machines."""

    def __init__(
        self,
        folder: Path,
        kept: Path,
        motion: Mapping[str, MachineLimits],
        clock: Clock,
        found: Found,
        say: Callable[[str], None],
        listed: Callable[[str], Sequence[Setting]] = lambda name: (),
    ) -> None:
        """`motion`: the settings' limits of each machine. `listed`: what a machine itself has listed; a thread asks."""
        self.folder = folder
        self.trouble: str | None = None
        """why the folder cannot be read; None while it can"""
        self.refused: dict[str, str] = {}
        """files that could not be planned, with the reason"""
        self._kept = kept
        self._motion = dict(motion)
        self._clock = clock
        self._found = found
        self._say = say
        self._listed_by = listed
        self._limits: dict[str, MachineLimits] = {}
        self._before: dict[Path, Seen] = {}
        self._settled: dict[Path, Seen] = {}
        self._plans: dict[str, dict[Path, JobFile]] = {name: {} for name in motion}
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="plans")

    @property
    def files(self) -> int:
        """Files that are planned for at least one machine."""
        return len({path for plans in self._plans.values() for path in plans})

    def facts(self) -> dict[str, Any]:
        """What `status` tells of it."""
        return {
            "folder": str(self.folder),
            "planned": self.files,
            "refused": dict(self.refused),
            "trouble": self.trouble,
        }

    async def run(self) -> None:
        """Look for ever."""
        loop = asyncio.get_running_loop()
        try:
            while True:
                await loop.run_in_executor(self._thread, self.look)
                for name, plans in self._plans.items():
                    self._found(name, tuple(plans.values()))
                await asyncio.sleep(EVERY / min(self._clock.rate, EVERY / 0.1))
        finally:
            self._thread.shutdown(wait=False, cancel_futures=True)

    def look(self) -> None:
        """One look: forget what has gone, plan what is new and has stopped growing."""
        try:
            now = self._listed()
        except OSError as wrong:
            if self.trouble is None:
                self._say(f"{self.folder} cannot be read: {wrong.strerror or wrong}; jobs go on without a plan")
            self.trouble = f"{self.folder}: {wrong.strerror or wrong}"
            return
        self.trouble = None
        for path in self._settled.keys() - now.keys():
            self._forget(path)
        limits = {name: from_settings_lines(self._motion[name], self._listed_by(name)) for name in self._motion}
        changed = {name: each for name, each in limits.items() if self._limits.get(name, each) != each}
        self._limits = limits
        for path, seen in now.items():
            if self._before.get(path) == seen and self._settled.get(path) != seen:
                self._forget(path)
                self._settled[path] = seen
                self._plan(path, limits)
            elif changed and path in self._settled and path.name not in self.refused:
                self._plan(path, changed)
        self._before = now

    def _listed(self) -> dict[Path, Seen]:
        found = []
        for path in self.folder.iterdir():
            if path.suffix.lower() in ENDINGS and path.is_file():
                facts = path.stat()
                found.append((path, Seen(facts.st_size, facts.st_mtime_ns)))
        found.sort(key=lambda each: each[1].changed, reverse=True)
        return dict(found[:MOST_FILES])

    def _forget(self, path: Path) -> None:
        self._settled.pop(path, None)
        self.refused.pop(path.name, None)
        for plans in self._plans.values():
            plans.pop(path, None)

    def _plan(self, path: Path, machines: Mapping[str, MachineLimits]) -> None:
        made: dict[MachineLimits, Plan] = {}
        try:
            digest = _digest(path)
            own = self._commands(path, digest)
            for name, limits in machines.items():
                plan = made.get(limits) or self._known(digest, limits) or self._made(path, limits)
                made[limits] = plan
                self._plans[name][path] = JobFile(path.name, plan, own if plan.digest == digest else None)
        except (PlanTrouble, OSError) as wrong:
            self.refused[path.name] = str(wrong)
            self._say(f"a job file could not be planned: {wrong}")

    def _known(self, digest: str, limits: MachineLimits) -> Plan | None:
        try:
            return from_bytes(self._place(digest, limits).read_bytes())
        except (OSError, ValueError):
            return None

    def _made(self, path: Path, limits: MachineLimits) -> Plan:
        plan = plan_file(path, limits)
        self._keep(self._place(plan.digest, limits), plan.to_bytes())
        return plan

    def _commands(self, path: Path, digest: str) -> commands.Commands | None:
        """What a stream of this file would send; None when that cannot be read, and only a card job of it is recognised."""
        place = self._kept / f"{digest[:32]}.commands"
        try:
            return commands.from_bytes(place.read_bytes())
        except (OSError, ValueError):
            pass
        try:
            found, own = commands_of(path)
        except PlanTrouble:
            return None
        if found != digest:  # written anew meanwhile: the next look plans it again
            return None
        self._keep(place, own.to_bytes())
        return own

    def _keep(self, place: Path, content: bytes) -> None:
        self._kept.mkdir(mode=0o700, parents=True, exist_ok=True)
        beside = place.with_suffix(".new")
        beside.write_bytes(content)
        beside.replace(place)
        kept = sorted(self._kept.glob(f"*{place.suffix}"), key=lambda each: each.stat().st_mtime)
        for old in kept[:-MOST_KEPT]:
            old.unlink(missing_ok=True)

    def _place(self, digest: str, limits: MachineLimits) -> Path:
        motion = hashlib.sha256(repr(limits).encode()).hexdigest()[:12]
        return self._kept / f"{digest[:32]}-{motion}.plan"


def _digest(path: Path) -> str:
    """SHA-256 of the content, as in `Plan.digest`."""
    content = hashlib.sha256()
    with path.open("rb") as opened:
        while piece := opened.read(_PIECE):
            content.update(piece)
    return content.hexdigest()
