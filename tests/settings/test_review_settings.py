"""Causes, upkeep and kept names, as the settings tell them."""

from collections.abc import Callable

import pytest

from watchdog.review.due import USUAL, Item
from watchdog.settings.model import Settings
from watchdog.settings.review import CAUSES, ORIGINS, ReviewTable, Upkeep, items_of

Mistakes = Callable[[str], list[str]]


def test_nothing_set_keeps_the_usual_and_no_names() -> None:
    settings = Settings()
    assert items_of(settings.upkeep, "doorway-1") == USUAL
    assert settings.review.causes == CAUSES
    assert set(CAUSES.values()) == set(ORIGINS)
    assert settings.review.keep_file_names is False


def test_a_table_takes_the_place_of_the_usual_interval_and_an_empty_list_ends_it() -> None:
    upkeep = {
        "nozzle": Upkeep(every_grams=3000.0),
        "build-surface": Upkeep(machines=("loft-1",)),
        "lubrication": Upkeep(machines=()),
        "belt": Upkeep(every_hours=400.0, every_jobs=300),
    }
    assert items_of(upkeep, "doorway-1") == (
        Item("nozzle-height", jobs=50), Item("nozzle", grams=3000.0), Item("belt", jobs=300, hours=400.0),
    )  # fmt: skip
    assert items_of(upkeep, "loft-1")[0] == Item("build-surface", jobs=25)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[upkeep.belt]\n", "upkeep.belt: nothing says when it is due. Give every_jobs, every_hours or every_grams."),
        ("[upkeep.nozle]\nmachines = ['doorway-1']", "Did you mean nozzle?"),
        ("[upkeep.nozzle]\nmachines = ['attic']", "there is no machine 'attic'. Valid here: doorway-1."),
        ("[upkeep.nozzle]\nevery_hours = 0", "upkeep.nozzle.every_hours"),
        ("[upkeep.nozzle]\nevery_jobs = 2.5", "upkeep.nozzle.every_jobs"),
        ("[review.causes]\nmould = 'wood'", "review.causes.mould: 'wood' is not possible here."),
        ("[review]\ncauses = {}", "review.causes"),
        ("[review]\nkeep_file_name = true", "Did you mean keep_file_names?"),
    ],
)
def test_a_mistake_is_named_with_its_place(text: str, told: str, mistakes: Mistakes) -> None:
    found = mistakes(f"[machines.doorway-1]\n{text}\n")
    assert len(found) == 1, found
    assert told in found[0]


def test_the_list_of_causes_takes_the_place_of_ours() -> None:
    assert ReviewTable.model_validate({"causes": {"mould": "design"}}).causes == {"mould": "design"}
