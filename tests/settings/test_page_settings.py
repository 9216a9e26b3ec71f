"""The page's settings: off unless asked for, and no address that a phone could not open."""

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from watchdog.page.options import Options
from watchdog.settings import load
from watchdog.settings.page import PageTable, page_of

Written = Callable[[str], Path]
Mistakes = Callable[[str], list[str]]
ZONE = ZoneInfo("Europe/Lisbon")
ADDRESS = 'address = "http://watch.example.org:8080"\n'


def options_of(table: PageTable | None) -> Options:
    options = page_of(table, ZONE)
    assert options is not None
    return options


def test_without_its_table_there_is_no_page(written: Written) -> None:
    assert page_of(load(written("")).page, ZONE) is None


def test_an_address_is_enough(written: Written) -> None:
    settings = load(written(f"[page]\n{ADDRESS}"))
    assert options_of(settings.page) == Options("0.0.0.0", 8080, "http://watch.example.org:8080", ZONE)


def test_everything_can_be_set(written: Written) -> None:
    table = 'listen = "[::1]:81"\naddress = "https://school.example.org/watch/"\nlinks_last = "2 h"\nstatus = true\n'
    settings = load(written(f"[page]\n{table}"))
    expected = Options("::1", 81, "https://school.example.org/watch", ZONE, links_last=7200, status=True)
    assert options_of(settings.page) == expected


def test_a_page_without_an_address_is_a_mistake(mistakes: Mistakes) -> None:
    """Its links would lead nowhere."""
    assert mistakes("[page]\n") == [
        "page.address: is missing and has no default. Add it; the commented example shows how."
    ]


@pytest.mark.parametrize(
    "listen",
    [
        "8080",
        "0.0.0.0",
        "localhost:8080",
        "0.0.0.0:0",
        "0.0.0.0:65536",
        "::1:8080",
        "[127.0.0.1]:80",
        "[::1]",
        ":80",
        "",
    ],
)
def test_what_cannot_be_listened_on_is_refused_with_the_remedy(listen: str, mistakes: Mistakes) -> None:
    (told,) = mistakes(f'[page]\nlisten = "{listen}"\n{ADDRESS}')
    assert told.startswith("page.listen: ")
    assert 'Write it as "0.0.0.0:8080" or "[::]:8080"' in told


@pytest.mark.parametrize(
    "address",
    [
        "watch.example.org",
        "ftp://watch.example.org",
        "http://",
        "http://watch.example.org:99999",
        "http://watch.example.org:0",
        "http://lead@watch.example.org",
        "http://watch.example.org/?q=1",
        "http://watch.example.org/#top",
        "http://watch example.org",
        "http://[::1",
        "http://0.0.0.0:8080",
        "http://[::]:8080",
        "http://watch.example.org/<b>",
    ],
)
def test_an_address_that_no_phone_could_open_is_refused_with_the_remedy(address: str, mistakes: Mistakes) -> None:
    (told,) = mistakes(f"[page]\naddress = '{address}'\n")
    assert told.startswith("page.address: ")
    assert 'Write what a phone opens to get here, such as "http://watch.example.org:8080"' in told


@pytest.mark.parametrize(
    "address",
    [
        "http://10.0.0.7:8080",
        "http://[fd00::7]:8080",
        "https://watch.local",
        "http://127.0.0.1:8080",
        "https://x.example/w/",
    ],
)
def test_usual_addresses_are_taken(address: str, mistakes: Mistakes) -> None:
    assert mistakes(f'[page]\naddress = "{address}"\n') == []


def test_an_address_too_long_for_a_message_is_refused(mistakes: Mistakes) -> None:
    (told,) = mistakes(f'[page]\naddress = "http://{"a" * 100}.example.org"\n')
    assert "has more than 100 characters" in told


def test_links_last_between_ten_minutes_and_a_week(mistakes: Mistakes) -> None:
    (short,) = mistakes(f'[page]\n{ADDRESS}links_last = "9 min"\n')
    (long,) = mistakes(f'[page]\n{ADDRESS}links_last = "8 d"\n')
    assert "at least 600" in short
    assert "at most 604800" in long
