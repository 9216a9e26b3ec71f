"""What is allowed but worth a second look."""

from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.settings import load
from watchdog.settings.notes import notes

Written = Callable[..., Path]
MACHINE = '[machines.a]\nport = "/dev/a"\n'
GOOD = MACHINE + '[routes.push]\nurl = "json://127.0.0.1:9/"\n[people.lead]\nroutes = ["push"]\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (GOOD, []),
        ("", ["no machine is named", "nobody is named"]),
        (GOOD + 'told = ["urgent"]\n', ["nobody is told high alarms", "nobody is told low alarms"]),
        (GOOD + '[routes.sms]\nurl = "json://127.0.0.1:9/"\n', ["routes.sms: nobody uses this route"]),
        (GOOD.replace("127.0.0.1:9", "push.example.org/x"), ["routes.push: still an example's address"]),
        (
            GOOD.replace("json://127.0.0.1:9/", "mailto://x@example.com?to=y"),
            ["routes.push: still an example's address"],
        ),
        (GOOD.replace("127.0.0.1:9", "example.organic.net/"), []),
        (GOOD.replace("/dev/a", '/dev/a"\nbaud = "115201'), ["machines.a.baud: 115201 is an unusual speed"]),
        (GOOD + "[alarms.heat-runaway]\nspoken = false\n", ["alarms.heat-runaway: nobody will be told of this urgent"]),
        (GOOD + '[alarms.heat-runaway]\npriority = "low"\n', ["alarms.heat-runaway: lowered from urgent to low"]),
        (GOOD + '[alarms.heat-runaway]\npriority = "urgent"\nremind_after = 60\n', []),
        (GOOD + '[alarms.silent]\nspoken = false\npriority = "high"\n', []),
    ],
)
def test_a_note_points_out_what_may_not_be_meant(text: str, told: list[str], written: Written) -> None:
    file = written(text)
    found = list(notes(load(file), file))
    assert len(found) == len(told), found
    for note, words in zip(found, told, strict=True):
        assert note.startswith(words)


def test_a_file_with_addresses_that_others_can_read_is_pointed_out(written: Written) -> None:
    """Not refused: under systemd the account of the service is another at each start, and must read it."""
    file = written(GOOD)
    file.chmod(0o644)
    (note,) = notes(load(file), file)
    assert f"chmod 600 {file}" in note
    assert "url_file" in note
    without = written(MACHINE, "other.toml")
    without.chmod(0o644)
    assert not [note for note in notes(load(without), without) if "chmod" in note]
