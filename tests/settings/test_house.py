"""What a term review is told of the house."""

from pathlib import Path

import pytest

from watchdog.core.hours import Span
from watchdog.settings import BadSettings, load
from watchdog.settings.house import house_of
from watchdog.settings.review import CAUSES

TEXT = """
zone = "Europe/Lisbon"
filament_price = 21.0
hours.mon = ["13:00-21:00"]
[review]
sheet_price = 6.5
[machines.doorway-1]
port = "/dev/null"
[machines.loft-1]
source = "log"
log = "/srv/loft.log"
material = "PETG"
melts_at = 175
"""


def house(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "emberward.toml"
    file.write_text(text, encoding="utf-8")
    file.chmod(0o600)
    return file


def test_zone_hours_prices_plastics_and_causes(tmp_path: Path) -> None:
    told = house_of(load(house(tmp_path, TEXT), addresses="not needed"))
    assert (told.zone.key, told.filament_price, told.sheet_price) == ("Europe/Lisbon", 21.0, 6.5)
    assert told.week is not None
    assert told.week.days[0] == (Span(780, 1260),)
    assert {name: plastic.melts_at for name, plastic in told.plastics.items()} == {"doorway-1": 150, "loft-1": 175}
    assert told.plastics["loft-1"].kinetics.reference == 240
    assert told.causes == CAUSES


def test_without_settings_no_price_and_no_hours_are_made_up(tmp_path: Path) -> None:
    told = house_of(load(house(tmp_path, ""), addresses="not needed"))
    assert (told.week, told.filament_price, told.sheet_price, dict(told.plastics)) == (None, None, None, {})


@pytest.mark.parametrize("price", ["-1", "true", '"6,50"', "20000"])
def test_a_price_that_is_none_is_refused(tmp_path: Path, price: str) -> None:
    with pytest.raises(BadSettings, match=r"review\.sheet_price"):
        load(house(tmp_path, f"review.sheet_price = {price}"), addresses="not needed")
