"""The page in a real browser: it loads nothing, prints on few sheets, can be read by everybody and on a phone."""

import re
import shutil
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator, Mapping
from html.parser import HTMLParser
from itertools import cycle
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.record.reader import Reader
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import BlindRow, Result, SheetRow, Usefulness
from watchdog.review.figures import Review, figures
from watchdog.review.page import page
from watchdog.review.plots import draw
from watchdog.review.recorded import recorded
from watchdog.review.report import report
from watchdog.review.rows import House, Rows

CHROMIUM = "/usr/bin/chromium"
DAY = 86_400.0
BEGIN = 1_772_409_600.0
MACHINES = ("doorway-1", "loft-1", "annexe-1", "annexe-2")
Open = Callable[..., Any]


@pytest.fixture(scope="module")
def usual(term: Any, house: House) -> Review:
    with Reader.read(term.record) as reader, reader.one_moment():
        return figures(recorded(reader, term.since, term.until, house), term.since, term.until, house)


@pytest.fixture(scope="module")
def fullest(house: House, job: Callable[..., JobRow], alarm: Callable[..., Any]) -> Review:
    """A term that fills every table: four machines, more causes and alarms than a table holds, all plots."""
    causes = [f"cause-number-{nth}" for nth in range(15)]
    full = House(house.zone, house.week, 21.0, 6.5, house.plastics, dict(zip(causes, cycle(
        ("design", "operator", "machine", "material", "supply")))))  # fmt: skip
    jobs = []
    for nth, machine in zip(range(1200), cycle(MACHINES)):
        outcome = Result.FAILED if nth % 7 == 0 else Result.UNKNOWN if nth % 11 == 0 else Result.GOOD
        ending = ("completed", "completed", "completed", "abandoned", "halted", "lost", "unseen")[nth % 7]
        start = BEGIN + nth * 6900.0
        jobs.append(
            job(nth, outcome, machine=machine, started=start, ended=start + 3000, ending=ending, active=3000.0 + nth % 700,
                cause=causes[nth % 15] if nth % 3 else None, blind=float(nth % 5))
        )  # fmt: skip
    said = cycle((Usefulness.USEFUL, Usefulness.NUISANCE, Usefulness.LATE, None))
    raised = tuple(
        alarm(BEGIN + nth * 3000.0, name, word, priority=priority)
        for nth, name, word, priority in zip(range(2000), cycle(TABLE), said, cycle(Priority))
    )
    blind = tuple(
        BlindRow(machine, "link", BEGIN + nth * DAY, BEGIN + nth * DAY + 900) for nth, machine in enumerate(MACHINES)
    )
    sheets = tuple(
        SheetRow(nth, "doorway-1", BEGIN + nth * DAY, "-", BEGIN + (nth + 1) * DAY, "-", "worn", "", 10 + nth)
        for nth in range(20)
    )
    return figures(Rows(tuple(jobs), raised, (), blind, sheets, ()), BEGIN, BEGIN + 98 * DAY, full)


@pytest.fixture(scope="module", params=["usual", "fullest", "empty"])
def written(request: pytest.FixtureRequest, house: House, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of each of three terms."""
    if request.param == "empty":
        found: Review = figures(Rows((), (), (), (), (), ()), BEGIN, BEGIN + 98 * DAY, house)
    else:
        found = request.getfixturevalue(request.param)
    file = tmp_path_factory.mktemp("page") / f"{request.param}.html"
    file.write_text(page(report(found), draw(found)), encoding="utf-8")
    return file


class _Counting:
    """A proxy that lets nothing through and counts who asks."""

    def __init__(self) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._socket.getsockname()[1]
        self.asked: list[bytes] = []
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def asked_for_the_page(self) -> list[bytes]:
        """Without what the browser asks its own maker."""
        own = (b"google.com", b"googleapis.com")
        return [ask for ask in self.asked if not any(maker in ask.split(b" ")[1] for maker in own)]

    def _serve(self) -> None:
        while True:
            try:
                caller, _ = self._socket.accept()
            except OSError:
                return
            with caller:
                caller.settimeout(5)
                self.asked.append(caller.recv(200))

    def close(self) -> None:
        self._socket.shutdown(socket.SHUT_RDWR)
        self._socket.close()
        self._thread.join(10)


@pytest.fixture
def proxy() -> Iterator[_Counting]:
    one = _Counting()
    yield one
    one.close()


def printed(file: Path, folder: Path, proxy_port: int) -> bytes:
    """The page as PDF, by a browser whose only way out is the proxy."""
    if shutil.which(CHROMIUM) is None:
        pytest.skip("there is no /usr/bin/chromium here; `bash tests/run` as root installs it")
    place = folder / "out.pdf"
    flags = [
        "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
        "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage", "--no-pdf-header-footer",
        f"--user-data-dir={folder / 'browser'}", f"--proxy-server=http://127.0.0.1:{proxy_port}",
        "--proxy-bypass-list=<-loopback>", f"--print-to-pdf={place}",
    ]  # fmt: skip
    subprocess.run([CHROMIUM, *flags, file.as_uri()], check=True, capture_output=True, timeout=100)
    return place.read_bytes()


def test_it_prints_on_six_sheets_at_most_and_asks_nobody(written: Path, tmp_path: Path, proxy: _Counting) -> None:
    document = printed(written, tmp_path, proxy.port)
    sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", document))
    assert 1 <= sheets <= 6
    assert re.findall(rb"/MediaBox\s*\[0 0 59[45][.0-9]* 84[12][.0-9]*\]", document)  # A4 in points
    assert proxy.asked_for_the_page() == []


def test_the_proxy_would_have_noticed(tmp_path: Path, proxy: _Counting) -> None:
    """The check can fail: a page that loads a picture from elsewhere is counted."""
    file = tmp_path / "loud.html"
    file.write_text('<p>x</p><img src="http://pictures.example.org/x.png">', encoding="utf-8")
    printed(file, tmp_path, proxy.port)
    (ask,) = proxy.asked_for_the_page()
    assert b"pictures.example.org" in ask


def test_the_browser_loads_the_page_and_nothing_else(written: Path, browser: Open) -> None:
    reader = browser(900)
    reader.open(written.as_uri())
    assert reader.requests == [written.as_uri()]
    assert reader.nodes("script") == reader.nodes("link") == reader.nodes("img") == []


def test_it_is_as_wide_as_a_phone(written: Path, browser: Open) -> None:
    phone = browser(320)
    phone.open(written.as_uri())
    assert phone.do("Page.getLayoutMetrics")["cssContentSize"]["width"] <= 320
    for node in phone.nodes("svg, td, th"):
        if phone.style(node)["display"] != "none" and (box := seen(phone, node)) is not None:
            assert box[2] <= 320


def seen(reader: Any, node: int) -> tuple[float, ...] | None:
    """The place of an element; None for what is not laid out."""
    try:
        place: tuple[float, ...] = reader.box(node)
    except AssertionError:
        return None
    return place


class Word(NamedTuple):
    """A text as it is shown."""

    text: str
    ink: tuple[float, ...]
    paper: tuple[float, ...]


def test_all_words_stand_out_from_their_ground(written: Path, browser: Open) -> None:
    """4.5:1 and more (WCAG 2.2, 1.4.3), in plots as well."""
    reader = browser(900)
    reader.open(written.as_uri())
    words = list(shown(reader.do("DOMSnapshot.captureSnapshot", computedStyles=["color", "fill", "background-color"])))
    assert len(words) > 50
    for word in words:
        assert contrast(word.ink, word.paper) >= 4.5, word


def shown(snapshot: Mapping[str, Any]) -> Iterator[Word]:
    strings, document = snapshot["strings"], snapshot["documents"][0]
    nodes, layout = document["nodes"], document["layout"]
    styles = {
        node: [strings[at] for at in style]
        for node, style in zip(layout["nodeIndex"], layout["styles"], strict=True)
        if style
    }
    for node, at in zip(layout["nodeIndex"], layout["text"], strict=True):
        if at < 0 or not strings[at].strip():
            continue
        holder = node if node in styles else nodes["parentIndex"][node]
        ink, fill, _ = styles[holder]
        paper: tuple[float, ...] = (255.0, 255.0, 255.0)
        in_plot, above = False, holder
        while above >= 0:
            in_plot = in_plot or strings[nodes["nodeName"][above]].lower() == "svg"
            if above in styles and not styles[above][2].startswith("rgba(0, 0, 0, 0"):
                paper = colour(styles[above][2])
                break
            above = nodes["parentIndex"][above]
        yield Word(strings[at], colour(fill if in_plot else ink), paper)


def colour(written: str) -> tuple[float, ...]:
    found = re.fullmatch(r"rgb\((\d+), (\d+), (\d+)\)", written)
    assert found, written
    return tuple(float(part) for part in found.groups())


def contrast(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """Contrast ratio of two sRGB colours, each 0 to 255 (WCAG 2.2, 'contrast ratio' and 'relative luminance')."""

    def luminance(of: tuple[float, ...]) -> float:
        parts = [part / 255 for part in of]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_yardstick_of_contrast_is_right() -> None:
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)
    assert contrast((0x77,) * 3, (255,) * 3) < 4.5 < contrast((0x76,) * 3, (255,) * 3)


class _Outline(HTMLParser):
    """What a reader aloud and a keyboard find."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]


def test_it_is_whole_in_itself_and_marked_up(written: Path) -> None:
    text = written.read_text("utf-8")
    outline = _Outline()
    outline.feed(text)
    ids = [attributes["id"] for _, attributes in outline.tags if "id" in attributes]
    assert len(ids) == len(set(ids)), "plots must not share names"
    for _, attributes in outline.tags:
        for name in ("href", "xlink:href"):
            assert (attributes.get(name) or "#")[0] == "#"
            assert (attributes.get(name) or "#")[1:] in {"", *ids}
        assert not {"src", "srcset", "data", "action", "onclick", "onload"} & attributes.keys()
    assert not re.search(r"https?://|@import|url\((?!#)|<script|javascript:", text)
    assert len(outline.all("h1")) == 1
    assert len(outline.all("caption")) == len(outline.all("table"))
    assert outline.all("html") == [{"lang": "en"}]
    pictures = [attributes for _, attributes in outline.tags if attributes.get("role") == "img"]
    assert len(pictures) == len(outline.all("svg")) == len(outline.all("figcaption"))
    assert all(len(attributes["aria-label"] or "") > 20 for attributes in pictures)


def test_the_fullest_page_has_every_plot(fullest: Review) -> None:
    assert draw(fullest).keys() == {"causes", "ratios", "cusum", "duane", "sheets", "useful"}


def test_plots_are_grey(fullest: Review) -> None:
    """On a school's printer no colour may be needed."""
    for key, drawing in draw(fullest).items():
        for red, green, blue in re.findall(r"#([0-9a-f]{2})([0-9a-f]{2})([0-9a-f]{2})\b", drawing):
            assert red == green == blue, key
