"""A real page on a loopback port, a workshop behind it, and a real browser before it."""

import asyncio
import http.client
import itertools
import json
import os
import shutil
import subprocess
import threading
from base64 import b64decode
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass, field, replace
from fcntl import F_DUPFD, fcntl
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import pytest

from watchdog.clock import Clock
from watchdog.page.app import EVERYBODY_ALIKE
from watchdog.page.deeds import Answer, MachineLine, Outcome, SetAside, Situation, Standing
from watchdog.page.links import PATH, Claim, Key, Purpose, sign
from watchdog.page.options import Options
from watchdog.page.server import Page
from watchdog.page.words import ENGLISH, Words

LISBON = ZoneInfo("Europe/Lisbon")
RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
KEY = Key(bytes(range(32)))


@dataclass
class Workshop:
    """What the service knows, in memory. It trusts its caller as far as `Deeds.act` promises, and no further."""

    standing: dict[tuple[str, str, int], Situation] = field(default_factory=dict)
    acts: list[tuple[Claim, str | None]] = field(default_factory=list)
    looks: int = 0
    fault: Exception | None = None
    """raised by every question"""
    held: asyncio.Event | None = None
    """`act` waits for it"""

    async def look(self, claim: Claim) -> Situation:
        self.looks += 1
        if self.fault is not None:
            raise self.fault
        await asyncio.sleep(0)
        return self.standing.get(_about(claim), Situation(Standing.UNKNOWN, "nothing known"))

    async def act(self, claim: Claim, answer: str | None) -> Outcome:
        if self.fault is not None:
            raise self.fault
        for _ in range(20):  # as a record does, it lets others run meanwhile
            await asyncio.sleep(0)
        if self.held is not None:
            await self.held.wait()
        self.acts.append((claim, answer))
        told = Answer(claim.person, RAISED + 60, "a link", answer)
        now = replace_situation(self.standing[_about(claim)], standing=Standing.ANSWERED, answered=told)
        self.standing[_about(claim)] = now
        return Outcome(True, now)

    async def overview(self) -> Sequence[MachineLine]:
        if self.fault is not None:
            raise self.fault
        aside = (SetAside(RAISED + 7200), SetAside(RAISED + 7200, "machine does not answer"))
        hot = MachineLine("doorway-1", "hot, 205 °C", ("nozzle hot and idle",))
        return [hot, MachineLine("loft-1", None), MachineLine("loft-2", "no job", (), aside)]


def replace_situation(situation: Situation, **changes: Any) -> Situation:
    return situation._replace(**changes)


def _about(claim: Claim) -> tuple[str, str, int]:
    return claim.machine, claim.alarm or claim.purpose.name, claim.number


HOT_IDLE = Situation(
    Standing.OPEN,
    what="nozzle hot and idle",
    action="Start the job or cool the nozzle",
    then="The nozzle is hot: keep hands away from it.",
    since=RAISED,
    now="hot, 205 °C, no job",
)
FIRST_LAYER = Situation(Standing.OPEN, what="first layer about to be done", since=RAISED, now="building")
OUTLAST = Situation(Standing.OPEN, what="job would end at 21:40, after hours", since=RAISED, now="building")


class Reply(NamedTuple):
    status: int
    headers: Mapping[str, str]
    """names in lower case"""
    text: str


class Running(NamedTuple):
    """A page that listens, in a thread of its own."""

    page: Page
    port: int
    clock: Clock
    workshop: Workshop
    reports: list[str | None]

    def claim(self, purpose: Purpose = Purpose.ACKNOWLEDGE, **changes: Any) -> Claim:
        alarm, number = ("hot-idle", 3) if purpose is Purpose.ACKNOWLEDGE else ("", 41)
        soon = int(self.clock.now().stamp) + 3600
        return Claim(purpose, "doorway-1", alarm, number, "workshop-lead", soon)._replace(**changes)

    def path(self, claim: Claim | None = None, key: Key = KEY) -> str:
        return PATH + sign(key, self.claim() if claim is None else claim)

    def ask(self, method: str, path: str, body: str | bytes | None = None, **headers: str) -> Reply:
        asking = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            asking.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
            reply = asking.getresponse()
            told = {name.lower(): value for name, value in reply.getheaders()}
            return Reply(reply.status, told, reply.read().decode("utf-8"))
        finally:
            asking.close()

    def tap(self, path: str, answer: str = "acknowledge") -> Reply:
        return self.ask("POST", path, f"answer={answer}", Content_Type="application/x-www-form-urlencoded")


Serve = Callable[..., Running]


@pytest.fixture
def serve() -> Iterator[Serve]:
    """Starts a page; keyword arguments change its options, `workshop` what is behind it."""
    with ExitStack() as stack:

        def start(
            workshop: Workshop | None = None,
            key: Key = KEY,
            words: Words = ENGLISH,
            languages: Mapping[str, str] = EVERYBODY_ALIKE,
            **options: Any,
        ) -> Running:
            return stack.enter_context(running(workshop or usual(), key, words, languages, **options))

        yield start


def usual() -> Workshop:
    """One alarm stands, one first layer is to be looked at, one job would outlast the hours."""
    return Workshop(
        {
            ("doorway-1", "hot-idle", 3): HOT_IDLE,
            ("doorway-1", "FIRST_LAYER", 41): FIRST_LAYER,
            ("doorway-1", "ALLOW_OUTLAST", 41): OUTLAST,
        }
    )


@contextmanager
def running(
    workshop: Workshop,
    key: Key = KEY,
    words: Words = ENGLISH,
    languages: Mapping[str, str] = EVERYBODY_ALIKE,
    **options: Any,
) -> Iterator[Running]:
    clock, reports = Clock(), list[str | None]()
    chosen = replace(Options("127.0.0.1", 0, "http://127.0.0.1", LISBON, burst=100_000), **options)
    page = Page(chosen, workshop, key, clock, reports.append, words=words, languages=languages)
    began = threading.Event()
    loop = asyncio.new_event_loop()

    async def run() -> None:
        async with asyncio.TaskGroup() as group:
            task = group.create_task(page.run())
            await asyncio.sleep(0)
            ending.append(task.cancel)
            began.set()

    ending: list[Callable[[], bool]] = []
    thread = threading.Thread(target=loop.run_until_complete, args=(run(),))
    thread.start()
    assert began.wait(30)
    try:
        assert page.port is not None
        yield Running(page, page.port, clock, workshop, reports)
    finally:
        loop.call_soon_threadsafe(ending[0])
        thread.join(30)
        assert not thread.is_alive()
        loop.close()


CHROMIUM = "/usr/bin/chromium"


class Browser:
    """A real browser, led through a pipe by its own debugging protocol; scripts in pages are off."""

    def __init__(self, folder: Path, width: int, height: int = 640) -> None:
        down, up = os.pipe(), os.pipe()
        ours = [os.fdopen(up[0], "rb"), os.fdopen(down[1], "wb", 0)]
        theirs = [fcntl(down[0], F_DUPFD, 20), fcntl(up[1], F_DUPFD, 20)]  # clear of 3 and 4, where it looks
        flags = [
            "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
            "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage", "--remote-debugging-pipe",
            f"--user-data-dir={folder}", f"--window-size={width},{height}",
        ]  # fmt: skip
        shell = f'exec "$@" 3<&{theirs[0]} 4>&{theirs[1]}'
        environment = {**os.environ, "HOME": str(folder), "XDG_CONFIG_HOME": str(folder), "XDG_CACHE_HOME": str(folder)}
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen(
            ["bash", "-c", shell, "bash", CHROMIUM, *flags],
            pass_fds=theirs,
            env=environment,
            stdin=quiet,
            stdout=quiet,
            stderr=quiet,
            start_new_session=True,
        )
        for handle in (*theirs, down[0], up[1]):
            os.close(handle)
        self._from, self._to = ours
        self._numbers = itertools.count(1)
        self._session: str | None = None
        self.requests: list[str] = []
        """addresses that pages wanted to load, sent or not"""
        target = self.do("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.do("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "DOM", "CSS"):
            self.do(f"{domain}.enable")
        self.do("Emulation.setScriptExecutionDisabled", value=True)
        size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": True}
        self.do("Emulation.setDeviceMetricsOverride", **size)
        self.do("Emulation.setTouchEmulationEnabled", enabled=True)

    def do(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One order, and what it gives."""
        number = next(self._numbers)
        order = {"id": number, "method": method, "params": parameters}
        if self._session is not None:
            order["sessionId"] = self._session
        self._to.write(json.dumps(order).encode() + b"\0")
        while True:
            told = self._hear()
            if told.get("id") == number:
                assert "error" not in told, f"{method}: {told['error']}"
                result: dict[str, Any] = told["result"]
                return result

    def until(self, event: str) -> None:
        """Wait for `event`."""
        while self._hear().get("method") != event:
            pass

    def _hear(self) -> dict[str, Any]:
        whole = bytearray()
        while (byte := self._from.read(1)) != b"\0":
            assert byte, "the browser has gone"
            whole += byte
        told: dict[str, Any] = json.loads(whole)
        if told.get("method") == "Network.requestWillBeSent":
            self.requests.append(told["params"]["request"]["url"])
        return told

    def open(self, address: str) -> None:
        """Go there, and wait until it is loaded."""
        self.do("Page.navigate", url=address)
        self.until("Page.loadEventFired")

    def html(self) -> str:
        """The page as it stands in the browser."""
        root = self.do("DOM.getDocument")["root"]["nodeId"]
        return str(self.do("DOM.getOuterHTML", nodeId=root)["outerHTML"])

    def nodes(self, selector: str) -> list[int]:
        """Elements that `selector` fits; they count until the next call."""
        root = self.do("DOM.getDocument")["root"]["nodeId"]
        return list(self.do("DOM.querySelectorAll", nodeId=root, selector=selector)["nodeIds"])

    def box(self, node: int) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of an element with its border, in px from the window's corner."""
        quad = self.do("DOM.getBoxModel", nodeId=node)["model"]["border"]
        return min(quad[::2]), min(quad[1::2]), max(quad[::2]), max(quad[1::2])

    def style(self, node: int) -> dict[str, str]:
        """What an element looks like in the end."""
        found = self.do("CSS.getComputedStyleForNode", nodeId=node)["computedStyle"]
        return {one["name"]: one["value"] for one in found}

    def tap(self, node: int) -> None:
        """A finger on the middle of an element; waits for the page that follows."""
        left, top, right, bottom = self.box(node)
        finger = [{"x": (left + right) / 2, "y": (top + bottom) / 2}]
        self.do("Input.dispatchTouchEvent", type="touchStart", touchPoints=finger)
        self.do("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
        self.until("Page.loadEventFired")

    def picture(self) -> bytes:
        """What is seen, as PNG."""
        return b64decode(self.do("Page.captureScreenshot")["data"])

    def close(self) -> None:
        """End it and everything that it has started."""
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, 9)
        self.process.wait()
        self._from.close()
        self._to.close()


@pytest.fixture(scope="module")
def phone(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """One browser, 320 px wide, for all tests of a file that leave it as it was."""
    one = Browser(_where_there_is_one(tmp_path_factory.mktemp("browser")), 320)
    yield one
    one.close()


def _where_there_is_one(folder: Path) -> Path:
    if shutil.which(CHROMIUM) is None:
        pytest.skip("there is no /usr/bin/chromium here; `bash tests/run` as root installs it")
    return folder


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Callable[[int], Browser]]:
    """Opens a browser with a window of so many px; skipped where there is none."""
    _where_there_is_one(tmp_path)
    opened: list[Browser] = []

    def start(width: int) -> Browser:
        opened.append(Browser(tmp_path / f"browser-{len(opened)}", width))
        return opened[-1]

    yield start
    for one in opened:
        one.close()
