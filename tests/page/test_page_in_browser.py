"""The page in a real browser, 320 px wide, with scripts off: what a phone shows and what it asks for."""

import re
from collections.abc import Callable
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import pytest

from watchdog.core.alarms.table import TABLE
from watchdog.page.deeds import Situation, Standing
from watchdog.page.links import Purpose

if TYPE_CHECKING:
    from collections.abc import Sequence

Open = Callable[[int], Any]
Serve = Callable[..., Any]


def contrast(one: "Sequence[float]", other: "Sequence[float]") -> float:
    """Contrast ratio of two sRGB colours, each 0 to 255 (WCAG 2.2, 'contrast ratio' and 'relative luminance')."""

    def luminance(colour: "Sequence[float]") -> float:
        parts = [part / 255 for part in colour]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def colour(written: str) -> list[float]:
    found = re.fullmatch(r"rgb\((\d+), (\d+), (\d+)\)", written)
    assert found, written
    return [float(part) for part in found.groups()]


def test_the_yardstick_of_contrast_is_right() -> None:
    """Values of the standard's own definition: black on white 21:1; #767676 is the usual example of just enough."""
    assert contrast([0, 0, 0], [255, 255, 255]) == pytest.approx(21.0)
    assert contrast([0x76] * 3, [255] * 3) == pytest.approx(4.54, abs=0.01)
    assert contrast([0x77] * 3, [255] * 3) < 4.5


def test_one_tap_on_the_one_button_acknowledges(serve: Serve, browser: Open) -> None:
    """The whole way of a person in a corridor: open, read, tap."""
    page, phone = serve(), browser(320)
    address = f"http://127.0.0.1:{page.port}"
    link = address + page.path()
    phone.open(link)
    (button,) = phone.nodes("button")
    left, top, right, bottom = phone.box(button)
    assert left >= 0
    assert right <= 320
    assert bottom <= 640, "it must be seen without scrolling"
    assert bottom - top >= 44
    assert right - left >= 44
    assert phone.do("Page.getLayoutMetrics")["cssContentSize"]["width"] <= 320, "no scrolling sideways"
    assert page.workshop.acts == []
    phone.tap(button)
    assert "Noted: you are seeing to it" in phone.html()
    assert phone.nodes("button") == []
    assert [claim.alarm for claim, _ in page.workshop.acts] == ["hot-idle"]
    assert phone.requests == [link, link]
    assert dict(page.page.counts) == {"shown": 1, "done": 1}
    phone.do("Page.reload")
    phone.until("Page.loadEventFired")
    assert len(page.workshop.acts) == 1


@pytest.mark.parametrize("answer", [0, 1, 2])
def test_a_first_layer_is_answered_with_one_of_three_buttons(serve: Serve, browser: Open, answer: int) -> None:
    page, phone = serve(), browser(320)
    phone.open(f"http://127.0.0.1:{page.port}{page.path(page.claim(Purpose.FIRST_LAYER))}")
    buttons = phone.nodes("button")
    boxes = [phone.box(button) for button in buttons]
    assert len(boxes) == 3
    assert all(box[3] - box[1] >= 44 and box[0] >= 0 and box[2] <= 320 for box in boxes)
    assert all(upper[3] + 8 <= lower[1] for upper, lower in pairwise(boxes)), "a thumb's distance"
    phone.tap(buttons[answer])
    assert [told for _, told in page.workshop.acts] == [["good", "bad", "skipped"][answer]]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_word_stands_out_in_light_and_in_dark(serve: Serve, browser: Open, scheme: str) -> None:
    """At 4.5:1 or more (WCAG 2.2, 1.4.3); the button against the page at 3:1 (1.4.11)."""
    page, phone = serve(), browser(320)
    phone.do("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
    phone.open(f"http://127.0.0.1:{page.port}{page.path()}")
    paper = colour(phone.style(phone.nodes("body")[0])["background-color"])
    assert (sum(paper) > 600) == (scheme == "light")
    for selector in ("h1", "p", "dt", "dd", "small"):
        for node in phone.nodes(selector):
            assert contrast(colour(phone.style(node)["color"]), paper) >= 4.5, selector
    (button,) = phone.nodes("button")
    style = phone.style(button)
    assert contrast(colour(style["color"]), colour(style["background-color"])) >= 4.5
    assert contrast(colour(style["background-color"]), paper) >= 3
    assert contrast(colour(phone.style(phone.nodes("dl")[0])["border-top-color"]), paper) >= 3
    assert phone.picture().startswith(b"\x89PNG")


def test_nothing_on_the_page_can_load_anything(serve: Serve, browser: Open) -> None:
    """Were a mark ever to slip through, the browser itself still refuses to fetch what it names."""
    page, phone = serve(), browser(320)
    phone.open(f"http://127.0.0.1:{page.port}{page.path()}")
    bait = '<p>x</p><img src="/bait"><link rel="stylesheet" href="/bait"><iframe src="/bait"></iframe>'
    (heading,) = phone.nodes("h1")
    phone.do("DOM.setOuterHTML", nodeId=heading, outerHTML=f"<div>{bait}</div>")
    phone.open(f"http://127.0.0.1:{page.port}{page.path()}")
    assert page.page.counts["no-such-page"] == 0
    assert page.page.counts["shown"] == 2


def test_that_check_can_fail(serve: Serve, browser: Open) -> None:
    """The same bait with the browser told to pass over the page's policy: now it is fetched."""
    page, phone = serve(), browser(320)
    phone.do("Page.setBypassCSP", enabled=True)
    phone.open(f"http://127.0.0.1:{page.port}{page.path()}")
    (heading,) = phone.nodes("h1")
    phone.do("DOM.setOuterHTML", nodeId=heading, outerHTML='<div><img src="/bait"></div>')
    phone.until("Network.loadingFinished")
    assert page.page.counts["no-such-page"] >= 1, "the bait, and the icon that a browser asks for where it may"
    assert any(address.endswith("/bait") for address in phone.requests)


def test_words_that_hold_marks_are_shown_as_words(serve: Serve, browser: Open) -> None:
    """What a machine says can end up on the page; it must not become part of it."""
    page, phone = serve(), browser(320)
    about = ("doorway-1", "hot-idle", 3)
    marks = '<img src="/bait"><b id="planted">hot</b>'
    page.workshop.standing[about] = page.workshop.standing[about]._replace(what=marks, now=marks, then=marks)
    phone.open(f"http://127.0.0.1:{page.port}{page.path()}")
    assert phone.nodes("img") == []
    assert phone.nodes("#planted") == []
    assert "&lt;b id=" in phone.html()


@pytest.mark.parametrize("alarm", sorted(TABLE))
def test_the_button_of_every_alarm_is_seen_without_scrolling(serve: Serve, phone: Any, alarm: str) -> None:
    """Above it stand the first action and its cautions, in full."""
    page, row = serve(), TABLE[alarm]
    situation = Situation(Standing.OPEN, row.what, row.action, row.then, 1772443867.0, "hot, 205 °C, no job")
    page.workshop.standing["doorway-1", alarm, 3] = situation
    phone.open(f"http://127.0.0.1:{page.port}{page.path(page.claim(alarm=alarm))}")
    (_, top, _, bottom) = phone.box(phone.nodes("button")[0])
    action = phone.box(phone.nodes("p")[0])
    assert action[3] < top
    assert bottom <= 640


def test_a_long_word_does_not_push_the_page_wider_than_a_phone(serve: Serve, browser: Open) -> None:
    page, phone = serve(), browser(320)
    about = ("doorway-1", "hot-idle", 3)
    page.workshop.standing[about] = page.workshop.standing[about]._replace(what="x" * 200, now="y" * 200)
    phone.open(f"http://127.0.0.1:{page.port}{page.path()}")
    assert phone.do("Page.getLayoutMetrics")["cssContentSize"]["width"] <= 320
