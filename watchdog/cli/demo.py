"""`demo`: a simulated machine on a real pseudo-terminal, watched by the real service, faster than life.

Two things go wrong that a school meets often: a nozzle forgotten hot after a load, and a job that stands still. Each is shown
from its cause to the message on a phone, the acknowledgement and the end.
"""

import argparse
import asyncio
import json
import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, complain, paint, say
from watchdog.clock import Clock
from watchdog.core.effects import AlarmChanged, Effect, JobChanged, StateChanged
from watchdog.host.instance import AnotherInstance, only_instance
from watchdog.record.faults import RecordUnusable
from watchdog.service.control import ask
from watchdog.service.logs import set_up
from watchdog.service.run import Hooks, watch
from watchdog.settings import BadSettings, load
from watchdog.settings.fill import local_zone
from watchdog.settings.places import RECORD, of_service
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.pty_host import PtyMachine

MACHINE = "doorway-1"
PERSON = "workshop-lead"
JOB = "cleat-hook.gcode"
LIMIT = 5400.0  # s of told time after which the demonstration gives up and says so

SETTINGS_FILE = "demo.toml"
REAL = ("EMBERWARD_MACHINES", "EMBERWARD_PEOPLE", "EMBERWARD_ROUTES", "EMBERWARD_PLACES")
"""what the environment may name of the house's own"""

SETTINGS = """\
# Written by `emberward demo`: the settings of the demonstration.
places.state = {state}
places.socket = {socket}

[machines.{machine}]
port = {port}
record = true

[routes.phone]
url = {url}

[people.{person}]
routes = ["phone"]
"""


@dataclass(frozen=True, slots=True)
class Scene:
    """One thing that goes wrong, and what the people do about it."""

    alarm: str
    acts: tuple[tuple[str, str, str], ...]
    """(what is told, deed, its words) that bring it about"""
    remedy: tuple[tuple[str, str, str], ...]


SCENES = (
    Scene(
        "hot-idle",
        (("Filament is loaded. A question comes in between, and the nozzle is left hot.", "load", ""),),
        (("The workshop lead comes over and cools the nozzle.", "cool", ""),),
    ),
    Scene(
        "job-stalled",
        (
            ("A job is started from the machine's own panel.", "choose", JOB),
            ("", "start", ""),
            (
                "At 40 % the card's contact fails: the machine answers, its nozzle stays hot, nothing moves.",
                "fault",
                "stall",
            ),
        ),
        (
            ("The workshop lead looks, and stops the job at the machine.", "stop", ""),
            ("", "heal", ""),
            ("", "cool", ""),
        ),
    ),
)


def run(asked: argparse.Namespace) -> int:
    """Show it; exit status 1 when something that should be seen was not."""
    if not 1 <= asked.rate <= 120:
        complain("--rate: from 1 (as slow as life) to 120.")
        return USAGE
    set_up(quiet=True)
    for name in [name for name in os.environ if name.startswith(REAL)]:
        del os.environ[name]  # the demonstration watches its own machine and speaks to its own phone alone
    try:
        folder: Path = asked.keep or of_service(load(None).places).state / "demo"
    except BadSettings as bad:  # in the environment: no file is read
        complain(str(bad))
        return USAGE
    try:
        return asyncio.run(Demonstration(folder.absolute(), asked.rate).run())
    except* (RecordUnusable, AnotherInstance) as unusable:
        for wrong in unusable.exceptions:
            complain(str(wrong))
    return FOUND_WRONG


class Demonstration:
    """The play: machine, service, phone and people."""

    def __init__(self, folder: Path, rate: float) -> None:
        self._folder = folder
        self._rate = rate
        self._clock = Clock(rate)
        self._zone = local_zone()
        self._seen: dict[tuple[str, str], asyncio.Event] = {}
        self._ready = asyncio.Event()
        self._messages = 0

    async def run(self) -> int:
        """Everything, until both scenes are over."""
        self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with only_instance(self._folder):
            left = [*self._folder.glob(f"{RECORD}*"), *self._folder.glob("recordings/*.traffic")]
            if left and not (self._folder / SETTINGS_FILE).exists():
                complain(
                    f"{self._folder} holds a record that is no demonstration's. Name another folder: --keep FOLDER"
                )
                return FOUND_WRONG
            for file in left:
                file.unlink()  # of an earlier demonstration: each tells its own story from incident 1
        link = self._folder / "port"
        phone = await asyncio.start_server(self._ring, "127.0.0.1", 0)
        url = f"json://127.0.0.1:{phone.sockets[0].getsockname()[1]}/"
        config = self._folder / SETTINGS_FILE
        socket = self._folder / "control.sock"
        written = {"state": self._folder, "socket": socket, "port": link}
        quoted = {name: json.dumps(str(place)) for name, place in written.items()}
        config.write_text(
            SETTINGS.format(machine=MACHINE, person=PERSON, url=json.dumps(url), **quoted), encoding="utf-8"
        )
        config.chmod(0o600)
        simulated = SimulatedMachine(Options(files=((JOB, SAMPLES[JOB]()),)), seed=1)
        machine = PtyMachine(simulated, clock=Clock(self._rate), link=link)
        settings = load(config)
        self._open(config)
        played = False
        async with asyncio.TaskGroup() as rooms:
            living = rooms.create_task(machine.run(), name="machine")
            hooks = Hooks(self._ready.set, self._narrate)
            service = rooms.create_task(
                watch(settings, of_service(settings.places), rate=self._rate, hooks=hooks), name="service"
            )
            try:
                await self._ready.wait()
                async with asyncio.timeout(LIMIT / self._rate):
                    for scene in SCENES:
                        await self._play(scene, machine, socket)
                played = True
            except TimeoutError:
                complain("The demonstration did not come to its end; what was seen so far is in the log.")
            finally:
                service.cancel()
                with suppress(asyncio.CancelledError):
                    await service
                living.cancel()
        phone.close()
        self._close(config)
        return DONE if played else FOUND_WRONG

    async def _play(self, scene: Scene, machine: PtyMachine, socket: Path) -> None:
        for told, deed, words in scene.acts:
            if deed == "fault":
                await self._when_read(machine, 0.4)
            if told:
                self._tell("machine", told)
            machine.do(deed, words)
        await self._event(scene.alarm, "raised").wait()
        await self._event(scene.alarm, "phone").wait()
        await self._clock.sleep(360)  # let one reminder come
        who = {"do": "acknowledge", "alarm": f"{MACHINE}/{scene.alarm}", "by": PERSON}
        await asyncio.get_running_loop().run_in_executor(None, ask, socket, who)
        self._tell("person", f"emberward acknowledge {MACHINE}/{scene.alarm} --by {PERSON}")
        await self._clock.sleep(60)
        for told, deed, words in scene.remedy:
            if told:
                self._tell("machine", told)
            machine.do(deed, words)
        await self._event(scene.alarm, "cleared").wait()
        await self._clock.sleep(90)

    async def _when_read(self, machine: PtyMachine, share: float) -> None:
        """Until the card job has read this share of its bytes."""
        size = len(SAMPLES[JOB]())
        while machine.machine.card.byte(machine.machine.now) < share * size:
            await self._clock.sleep(5)

    def _event(self, alarm: str, what: str) -> asyncio.Event:
        return self._seen.setdefault((alarm, what), asyncio.Event())

    # ------------------------------------------------------------ telling

    def _open(self, config: Path) -> None:
        say(paint("Emberward, a demonstration", "bold") + f"   {self._rate:g} seconds are shown in one")
        say("A simulated printer on a real pseudo-terminal, watched by the real service. Settings, log and recording:")
        say(f"  {config.parent}")
        say("")

    def _narrate(self, machine: str, effects: Sequence[Effect]) -> None:
        for effect in effects:
            match effect:
                case AlarmChanged():
                    self._event(effect.alarm, effect.transition.value).set()
                    sight = ", ".join(f"{name} {value}" for name, value in effect.evidence.items())
                    shown = f"{effect.alarm} {effect.transition.value}" + (f"  ({sight})" if sight else "")
                    self._tell("watch", paint(shown, "bold"), effect.at.stamp)
                case StateChanged(axis="execution" | "hotend"):
                    self._tell("watch", f"{effect.axis}: {effect.before} → {effect.after}", effect.at.stamp)
                case JobChanged():
                    self._tell(
                        "watch", f"job {effect.event}" + (f" ({effect.why})" if effect.why else ""), effect.at.stamp
                    )

    def _tell(self, who: str, what: str, stamp: float | None = None) -> None:
        time = datetime.fromtimestamp(self._clock.now().stamp if stamp is None else stamp, self._zone)
        say(f"{time:%H:%M:%S}  {who:<8} {what}")

    async def _ring(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """The phone: takes what the push route posts, and shows it as a locked screen does."""
        try:
            head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1")
            sizes = [line.split(":")[1] for line in head.split("\r\n") if line.lower().startswith("content-length:")]
            body: dict[str, Any] = json.loads(await reader.readexactly(int(sizes[0])))
            writer.write(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")
            await writer.drain()
        except (ValueError, IndexError, asyncio.IncompleteReadError):
            writer.write(b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n")
            return
        finally:
            writer.close()
        self._messages += 1
        text = str(body.get("message", "")).splitlines()
        for line in _screen(str(body.get("title", "")), text[0] if text else ""):
            say(f"          {line}")
        for scene in SCENES:
            if self._event(scene.alarm, "raised").is_set():
                self._event(scene.alarm, "phone").set()

    def _close(self, config: Path) -> None:
        folder = config.parent
        say("")
        say(paint("Where to look now", "bold"))
        called = sys.argv[0] if not sys.argv[0].endswith("__main__.py") else f"{sys.executable} -m watchdog"
        called = "emberward" if shutil.which("emberward") else called
        say(f"  {called} incidents --config {config}")
        say(f"  {called} show 1 --config {config}")
        say(f"  {called} replay {folder}/recordings/*.traffic        the same alarms, from the recording")
        say("  config/emberward.toml        the settings, explained")
        say(f"{self._messages} messages reached the phone. Simulated: no machine was hot.")


def _screen(title: str, text: str) -> list[str]:
    """A message as a narrow locked screen shows it."""
    width = 46
    rows = [title, *textwrap.wrap(text, width - 4)]
    return ["╭" + "─" * (width - 2) + "╮", *(f"│ {row:<{width - 4}} │" for row in rows), "╰" + "─" * (width - 2) + "╯"]
