"""Shelving and repair, from the commands to the status, over a kill, and to their natural end."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.service.conftest import House

Wait = Callable[..., Any]

pytestmark = pytest.mark.timeout(240)


def test_what_is_silenced_says_why_survives_a_kill_and_ends_by_itself(house: "House", wait: Wait) -> None:
    """Whoever comes after must see that nothing would be said, why, and that it comes back."""
    house.plug_in()
    house.watch()
    for words in (("shelve", "doorway-1/silent", "--for", "2 h"), ("repair", "--for", "20 min")):
        refused = house.command(*words)
        assert (refused.returncode, refused.stdout) == (1, "")
        assert "say why" in refused.stderr
    why = ("--reason", "ca\x1b[2Jble", "--by", "lead")
    assert house.command("shelve", "doorway-1/silent", "--for", "2 h", *why).returncode == 0
    assert house.command("repair", "--for", "20 min", *why).returncode == 0
    house.do("load")
    wait("the alarm, that nobody hears of", lambda: "hot-idle" in house.alarms())
    house.kill()
    house.watch()
    shown = house.command("status").stdout
    assert "repair     out of service for another" in shown
    assert "min, by lead: ca[2Jble" in shown  # nothing that steers a terminal
    assert "SHELVED  doorway-1/silent" in shown
    assert house.phone.messages == []
    wait("its end", lambda: (house.status() or {})["machines"][0]["out_of_service_for_s"] is None)
    wait("what stands is told", lambda: house.phone.about("nozzle hot and idle"))
    assert not house.phone.about("reminder")
    assert house.alarms()["silent"]["shelved_why"] == "ca[2Jble"
    assert house.stop() == 0


def test_a_repair_that_is_ended_early_tells_at_once_what_stands(house: "House", wait: Wait) -> None:
    house.plug_in()
    house.watch()
    house.command("repair", "--for", "1 d", "--reason", "new nozzle", "--by", "lead")
    house.do("load")
    wait("the alarm, that nobody hears of", lambda: "hot-idle" in house.alarms())
    assert house.phone.messages == []
    assert house.command("repair", "--end", "--by", "lead").returncode == 0
    assert (house.status() or {})["machines"][0]["out_of_service_for_s"] is None
    wait("what stands is told", lambda: house.phone.about("nozzle hot and idle"))
    assert house.stop() == 0
