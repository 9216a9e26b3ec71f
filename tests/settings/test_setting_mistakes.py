"""Every mistake in a settings file is told: its place, what was found, what would be right."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.settings import BadSettings, load

ONE = '[machines.doorway-1]\nport = "/dev/a"\n'
PUSH = '[routes.push]\nurl = "json://127.0.0.1:9/"\n'

# what is written, the place that must be named, words that must be in the sentence
TABLE = {
    "an unknown table": ("[machine.doorway-1]\n", "machine", ["no such setting", "Did you mean machines?"]),
    "an unknown setting of a machine": (ONE + "bod = 1\n", "machines.doorway-1.bod", ["Did you mean baud?"]),
    "an unknown setting of a person": (
        PUSH + '[people.lead]\nroutes = ["push"]\nshow_file = true\n',
        "people.lead.show_file",
        ["Did you mean show_files?"],
    ),
    "an unknown setting of a route": ('[routes.push]\nurl = "json://h/"\nbreif = true\n', "routes.push.breif", ["brief?"]),
    "an unknown setting of delivery": ("[delivery]\ntimelimit = 3\n", "delivery.timelimit", ["Did you mean time_limit?"]),
    "an unknown place": ('[places]\nstat = "/x"\n', "places.stat", ["Did you mean state?"]),
    "an unknown alarm among the limits": ("[limits.hot-idel]\n", "limits.hot-idel", ["Did you mean hot-idle?"]),
    "an unknown limit": ("[limits.hot-idle]\ndoze = 3\n", "limits.hot-idle.doze", ["Did you mean dose?"]),
    "an unknown limit of one machine": (
        ONE + "limits.hot-idle.doze = 3\n",
        "machines.doorway-1.limits.hot-idle.doze",
        ["Did you mean dose?"],
    ),
    "an unknown alarm": ("[alarms.hot-idel]\nspoken = false\n", "alarms.hot-idel", ["'hot-idel'", "Did you mean hot-idle?"]),
    "an unknown change of an alarm": ("[alarms.silent]\ndelay = 3\n", "alarms.silent.delay", ["no such setting"]),
    "an unknown time zone": ('zone = "Europe/Lisbn"\n', "zone", ["'Europe/Lisbn'", "Did you mean Europe/Lisbon?"]),
    "a zone that is no text": ("zone = 1\n", "zone", ["1 is no time zone", "Europe/Lisbon"]),
    "an unknown material": (ONE + 'material = "PTEG"\n', "machines.doorway-1.material", ["'PTEG'", "Did you mean PETG?"]),
    "an unknown source": (ONE + 'source = "seriel"\n', "machines.doorway-1.source", ["'seriel'", "Did you mean serial?"]),
    "an unknown priority": ('[alarms.silent]\npriority = "hihg"\n', "alarms.silent.priority", ["'hihg'", "high?", "urgent"]),
    "a priority that is none of these": ('[alarms.silent]\npriority = "xx"\n', "alarms.silent.priority", ["high, low, urgent"]),
    "a person told an unknown priority": (
        PUSH + '[people.lead]\nroutes = ["push"]\ntold = ["urgnt"]\n',
        "people.lead.told.0",
        ["'urgnt'", "Did you mean urgent?"],
    ),
    "a person told nothing": (PUSH + '[people.lead]\nroutes = ["push"]\ntold = []\n', "people.lead.told", ["is empty"]),
    "a person without routes": ("[people.lead]\n", "people.lead.routes", ["is missing"]),
    "a person with no route": ("[people.lead]\nroutes = []\n", "people.lead.routes", ["is empty", "at least one"]),
    "a route that is no list": (PUSH + '[people.lead]\nroutes = "push"\n', "people.lead.routes", ["'push' is no list"]),
    "an unknown route": (PUSH + '[people.lead]\nroutes = ["puhs"]\n', "people.lead.routes", ["'puhs'", "Did you mean push?"]),
    "a route where there is none": ('[people.lead]\nroutes = ["push"]\n', "people.lead.routes", ["'push'", "[routes.NAME]"]),
    "text for a number": (ONE + 'baud = "fast"\n', "machines.doorway-1.baud", ["'fast' is no whole number", "without quotes"]),
    "a fraction for a whole number": (ONE + "record_files = 1.5\n", "machines.doorway-1.record_files", ["1.5", "whole number"]),
    "truth for a number": (ONE + "baud = true\n", "machines.doorway-1.baud", ["true is no number"]),
    "truth for a limit": ("[limits.hot-idle]\ndose = true\n", "limits.hot-idle.dose", ["true is no number"]),
    "text for truth": (ONE + 'record = "perhaps"\n', "machines.doorway-1.record", ["'perhaps'", "true nor false"]),
    "a number for text": (ONE + "material = 3\n", "machines.doorway-1.material", ["3 is no text"]),
    "a number for a table": ("[machines]\ndoorway-1 = 3\n", "machines.doorway-1", ["3 is no table", "[heading]"]),
    "a list for tables": ("routes = [1]\n", "routes", ["a list is no table"]),
    "a number that is none": ("[limits.hot-idle]\ndose = nan\n", "limits.hot-idle.dose", ["nan"]),
    "too low": (ONE + "baud = 300\n", "machines.doorway-1.baud", ["300", "at least 1200 bits a second"]),
    "too high": (ONE + 'poll = "2 min"\n', "machines.doorway-1.poll", ["120.0", "at most 30 s"]),
    "a limit too low": ("[limits.hot-idle]\ndose = 0\n", "limits.hot-idle.dose", ["at least 1 equivalent min"]),
    "a limit too high": ("[limits.hot-idle]\nreference = 900\n", "limits.hot-idle.reference", ["900", "at most 450 °C"]),
    "nonsense for a duration": (ONE + 'poll = "soon"\n', "machines.doorway-1.poll", ["'soon' is no duration", '"90 s"']),
    "nonsense for a limit's duration": ('[limits.silent]\nquiet = "1 hour"\n', "limits.silent.quiet", ["'1 hour'", '"5 min"']),
    "nonsense for an expected duration": (
        ONE + 'expected = {"A.GCO" = "long"}\n',
        "machines.doorway-1.expected.A.GCO",
        ["'long' is no duration"],
    ),
    "a port that is none": ('[machines.doorway-1]\nport = "ttyUSB0"\n', "machines.doorway-1.port", ["/dev/serial/by-id/"]),
    "a path that is not whole": ('[places]\nstate = "here"\n', "places.state", ["'here'", "from /"]),
    "a socket whose path is too long": (f'[places]\nsocket = "/{"x" * 120}"\n', "places.socket", ["107 bytes"]),
    "no log to follow": ('[machines.loft-1]\nsource = "log"\n', "machines.loft-1.log", ['log = "/path']),
    "a log beside a port": ('[machines.loft-1]\nlog = "/x"\n', "machines.loft-1.source", ['source = "log"']),
    "two machines on one port": (
        ONE + '[machines.loft-1]\nport = "/dev/a"\n',
        "machines.loft-1.port",
        ["doorway-1 has it already"],
    ),
    "two machines on one port by two names": (
        ONE + '[machines.loft-1]\nport = "/dev/../dev/a"\n',
        "machines.loft-1.port",
        ["doorway-1 has it already"],
    ),
    "two machines on one log": (
        '[machines.a]\nsource = "log"\nlog = "/x"\n[machines.b]\nsource = "log"\nlog = "/x"\n',
        "machines.b.log",
        ["machine a has it already"],
    ),
    "several machines of which one names no port": (ONE + "[machines.loft-1]\n", "machines.loft-1.port", ["is missing"]),
    "a machine that is called as the watch itself": ('[machines.watch]\nport = "/dev/a"\n', "machines.watch", ["another"]),
    "a name that does not fit": ('[machines."a b"]\nport = "/dev/a"\n', "machines.a b", ["'a b'", "1 to 40 letters"]),
    "a pattern without its text": (
        '[machines.a]\nsource = "log"\nlog = "/x"\nlayout.pattern = "(?P<txt>.*)"\n',
        "machines.a.layout",
        ["no group named text", "(?P<text>.*)"],
    ),
    "a pattern that is no regular expression": (
        '[machines.a]\nsource = "log"\nlog = "/x"\nlayout.pattern = "(?P<text>.*"\n',
        "machines.a.layout",
        ["no regular expression"],
    ),
    "a layout without a pattern": (
        '[machines.a]\nsource = "log"\nlog = "/x"\nlayout.fold = 1\n',
        "machines.a.layout.pattern",
        ["is missing"],
    ),
    "a time format that is none": (
        '[machines.a]\nsource = "log"\nlog = "/x"\nlayout.pattern = "(?P<text>.*)"\nlayout.time_format = "unix"\n',
        "machines.a.layout.time_format",
        ["'unix'", "epoch"],
    ),
    "no address": ("[routes.push]\nbrief = true\n", "routes.push", ["there is no address", "url, url_file and credential"]),
    "two addresses": (
        '[routes.push]\nurl = "json://h/"\ncredential = "c"\n',
        "routes.push",
        ["there are url and credential", "exactly one"],
    ),
    "an empty address": ('[routes.push]\nurl = " "\n', "routes.push.url", ["it is empty"]),
    "an address that is none": ('[routes.push]\nurl = "push.example.org"\n', "routes.push.url", ["it is no address"]),
    "an address in two lines": ('[routes.push]\nurl = "json://a/\\njson://b/"\n', "routes.push.url", ["on one line"]),
    "a credential that is not handed over": (
        '[routes.push]\ncredential = "push"\n',
        "routes.push.credential",
        ["CREDENTIALS_DIRECTORY"],
    ),
    "a credential that is a path": ('[routes.push]\ncredential = "/etc/x"\n', "routes.push.credential", ["no path"]),
    "an address file that is not there": ('[routes.push]\nurl_file = "/no/such"\n', "routes.push.url_file", ["No such file"]),
    "limits in the wrong order": (
        '[limits.hot-idle]\nfloor = "30 min"\n',
        "limits.hot-idle.floor",
        ["1800 is more than cap, 1200"],
    ),
    "one machine's limits in the wrong order": (
        ONE + "limits.hot-idle.purge_from = 5\n",
        "machines.doorway-1.limits.hot-idle.dose",
        ["10 is more than purge_from, 5"],
    ),
    "pauses in the wrong order": ("[delivery]\nfirst_pause = 300\nlongest_pause = 20\n", "delivery.first_pause", ["Swap"]),
    "an on-delay that eats the time to respond": (
        '[alarms.heat-runaway]\non_delay = "5 min"\n',
        "alarms.heat-runaway",
        ["on-delay", "time to respond"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("mistake", TABLE)
def test_a_mistake_is_told_with_its_place_and_its_remedy(mistake: str, mistakes: Callable[[str], list[str]]) -> None:
    """The operator, who has no manual at hand, mends the file by the sentence alone."""
    text, place, words = TABLE[mistake]
    told = mistakes(text)
    assert len(told) == 1, told
    where, _, sentence = told[0].partition(": ")
    assert where == place
    assert sentence.endswith((".", "?")) or "chmod" in sentence
    for word in words:
        assert word in sentence


def test_all_mistakes_of_the_table_in_one_file_are_told_at_once(mistakes: Callable[[str], list[str]]) -> None:
    """Else the operator mends one, starts, reads the next, and so on until the lesson begins."""
    told = mistakes("""
zone = "Europe/Lisbn"
machins = 3
[machines.doorway-1]
port = "/dev/a"
baud = "fast"
poll = "soon"
bod = 1
limits.hot-idle.doze = 3
limits.silent.quiet = -1
[machines.loft-1]
port = "/dev/a"
[machines.attic-1]
source = "log"
layout.pattern = "x"
[routes.push]
url = 3
[routes.mail]
brief = 2
[people.lead]
routes = ["puhs", "mail"]
told = ["urgnt"]
[limits.hot-idle]
preparing = "x"
[limits.temperature-implausible]
lowest = 5
highest = 4
[alarms.silnt]
spoken = true
[delivery]
first_pause = 300
longest_pause = 20
[places]
state = "here"
""")
    assert sorted(line.partition(": ")[0] for line in told) == sorted(
        [
            "zone", "machins", "machines.doorway-1.baud", "machines.doorway-1.poll", "machines.doorway-1.bod",
            "machines.doorway-1.limits.hot-idle.doze", "machines.doorway-1.limits.silent.quiet", "machines.loft-1.port",
            "machines.attic-1.log", "machines.attic-1.layout", "routes.push.url", "routes.mail", "routes.mail.brief",
            "people.lead.routes", "people.lead.told.0", "limits.hot-idle.preparing", "limits.temperature-implausible.lowest",
            "limits.temperature-implausible.highest", "alarms.silnt", "delivery.first_pause", "places.state",
        ]
    )  # fmt: skip


def test_one_mistake_does_not_breed_others(mistakes: Callable[[str], list[str]]) -> None:
    """A wrong source is told as that, and not also as a log that does not belong there."""
    text = '[machines.a]\nsource = "lgo"\nlog = "/x"\nlayout.pattern = "(?P<text>.*)"\nmaterial = "PLB"\n'
    assert [line.partition(": ")[0] for line in mistakes(text)] == ["machines.a.source", "machines.a.material"]


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"zone = Europe\n", "is no valid TOML: Invalid value (at line 1"),
        (b"[a]\n[a]\n", "is no valid TOML: Cannot declare"),
        (b'zone = "\xff"\n', "is no text in UTF-8"),
    ],
)
def test_a_file_that_is_no_toml_is_told_with_the_line(raw: bytes, words: str, tmp_path: Path) -> None:
    file = tmp_path / "emberward.toml"
    file.write_bytes(raw)
    with pytest.raises(BadSettings) as bad:
        load(file)
    assert str(bad.value).startswith(f"{file}: {words}")
    assert len(bad.value.problems) == 1


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadSettings, match=r"nothing.toml: cannot be read: No such file or directory\."):
        load(tmp_path / "nothing.toml")
    with pytest.raises(BadSettings, match="cannot be read: Is a directory"):
        load(tmp_path)


def test_a_file_that_this_account_may_not_read_is_told(written: Callable[[str], Path]) -> None:
    """In a process of an ordinary account: to the administrator nothing is closed."""
    file = written("")
    file.chmod(0)
    if not (child := os.fork()):
        status = 1
        try:
            if os.geteuid() == 0:
                os.setgroups([])
                os.setgid(65534)
                os.setuid(65534)
            load(file)
        except BadSettings as bad:
            status = 0 if str(bad.problems[0]) == f"{file}: cannot be read: Permission denied." else 2
        finally:
            os._exit(status)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0


def test_names_that_the_settings_library_keeps_for_itself_are_no_settings(mistakes: Callable[[str], list[str]]) -> None:
    """A file must not steer where settings are read from."""
    told = mistakes('_env_file = "/etc/passwd"\n_cli_parse_args = true\nself = 1\n')
    assert [line.partition(": ")[0] for line in told] == ["_env_file", "_cli_parse_args", "self"]
    assert all("no such setting" in line for line in told)
