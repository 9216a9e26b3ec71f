"""The service file: accepted by systemd without a word, and allowed no more than it needs."""

import re
import shutil
import subprocess
from configparser import RawConfigParser
from pathlib import Path

import pytest

HERE = Path(__file__).parents[2] / "systemd"
UNIT = HERE / "emberward.service"
RULES = HERE / "60-emberward-serial.rules"

needs_systemd = pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed")


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The unit with a command that exists: `verify` looks for it."""
    text, found = re.subn(r"(?m)^ExecStart=\S+", "ExecStart=/bin/true", UNIT.read_text())
    assert found == 1
    unit = tmp_path / UNIT.name
    unit.write_text(text)
    return unit


def analyze(*arguments: str | Path) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(["systemd-analyze", *arguments], capture_output=True, text=True, check=False, timeout=60)


@needs_systemd
def test_systemd_accepts_the_unit_without_a_word(copy: Path) -> None:
    """An unknown key is only printed, with exit status 0: the protection would silently be missing."""
    verdict = analyze("verify", copy)
    assert (verdict.stdout, verdict.stderr, verdict.returncode) == ("", "", 0)


@needs_systemd
def test_systemd_would_complain_about_a_misspelt_key(copy: Path) -> None:
    copy.write_text(copy.read_text().replace("WatchdogSec=", "WatchdogSecs="))
    assert "WatchdogSecs" in analyze("verify", copy).stderr


@needs_systemd
def test_the_exposure_is_at_most_one_and_a_half(copy: Path) -> None:
    verdict = analyze("security", "--offline=true", "--threshold=15", copy)
    assert verdict.returncode == 0, verdict.stdout
    assert "Overall exposure level" in verdict.stdout


@needs_systemd
def test_the_exposure_is_really_measured(copy: Path) -> None:
    copy.write_text(copy.read_text().replace("CapabilityBoundingSet=\n", "").replace("PrivateMounts=yes\n", ""))
    assert analyze("security", "--offline=true", "--threshold=15", copy).returncode != 0


class _Repeatable(dict[str, str]):
    """systemd lets a key stand more than once; the values are then read together, a line each."""

    def __setitem__(self, key: str, value: str) -> None:
        if isinstance(value, list) and key in self:
            value = [*self[key], *value]
        super().__setitem__(key, value)


@pytest.fixture
def unit() -> RawConfigParser:
    parser = RawConfigParser(strict=False, dict_type=_Repeatable, delimiters=("=",), comment_prefixes=("#",))
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read_string(UNIT.read_text())
    return parser


def test_the_service_runs_the_watch_and_is_restarted_when_it_hangs(unit: RawConfigParser) -> None:
    service = unit["Service"]
    assert service["Type"] == "notify"
    assert service["ExecStart"] == "/opt/emberward/bin/emberward watch --config %d/emberward.toml"
    assert service["LoadCredential"] == "emberward.toml:/etc/emberward/emberward.toml"
    assert float(service["WatchdogSec"]) > 0
    assert service["Restart"] == "always"
    assert service["RestartPreventExitStatus"] == "2"
    assert unit["Unit"]["StartLimitIntervalSec"] == "0"
    assert (service["StateDirectory"], service["RuntimeDirectory"]) == ("emberward", "emberward")


def test_a_printer_that_is_plugged_in_after_the_start_can_be_opened(unit: RawConfigParser) -> None:
    """Device groups unknown at the start are left out of the list: the drivers must have been loaded before."""
    for key in ("Wants", "After"):
        assert {"modprobe@cdc_acm.service", "modprobe@usbserial.service"} <= set(unit["Unit"][key].split())
    assert unit["Service"]["DevicePolicy"] == "closed"
    assert unit["Service"]["DeviceAllow"].split("\n") == ["char-ttyUSB rw", "char-ttyACM rw"]
    assert "PrivateDevices" not in unit["Service"]


def test_mail_and_push_can_leave(unit: RawConfigParser) -> None:
    service = unit["Service"]
    assert service["RestrictAddressFamilies"].split() == ["AF_UNIX", "AF_INET", "AF_INET6"]
    assert not {"PrivateNetwork", "IPAddressDeny"} & set(service)


# ---------------------------------------------------------------- the rules for serial ports

_ASSIGNMENT = re.compile(r'(?P<key>[A-Z]+(?:\{[A-Z_]+\})?)(?P<sign>==|!=|\+=|=)"(?P<value>[^"]*)"')


def rules() -> list[list[tuple[str, str, str]]]:
    """Each rule as its (key, sign, value) triples; lines that are marked as comments with a rule in them included."""
    lines = [line.removeprefix("#") for line in RULES.read_text().splitlines()]
    found = []
    for line in lines:
        if line and not line.startswith(" "):
            parts = line.split(", ")
            matches = [_ASSIGNMENT.fullmatch(part) for part in parts]
            assert all(matches), f"no udev rule: {line}"
            found.append([(match["key"], match["sign"], match["value"]) for match in matches if match])
    return found


def test_every_rule_is_well_formed_and_every_jump_has_its_label() -> None:
    flat = [part for rule in rules() for part in rule]
    labels = {value for key, _, value in flat if key == "LABEL"}
    assert {value for key, _, value in flat if key == "GOTO"} == labels == {"emberward_serial_end"}
    assert {key for key, sign, _ in flat if sign in {"==", "!="}} == {"ACTION", "SUBSYSTEM", "KERNEL"}


def test_the_rules_name_no_make_and_open_no_port_unless_asked_to() -> None:
    """A command that opens the port at plug-in can end a running job: it stays behind a comment mark."""
    text = RULES.read_text()
    assert not re.search(r"idVendor|idProduct|ID_VENDOR|ID_MODEL|ID_SERIAL", text)
    active = [line for line in text.splitlines() if line and not line.startswith("#")]
    assert active
    assert not any("RUN" in line or "PROGRAM" in line for line in active)


@pytest.mark.skipif(
    shutil.which("udevadm") is None
    or subprocess.run(["udevadm", "verify", "--help"], capture_output=True, check=False).returncode != 0,
    reason="udevadm verify (systemd 254 or later) is not installed",
)
def test_udev_accepts_the_rules() -> None:
    verdict = subprocess.run(["udevadm", "verify", str(RULES)], capture_output=True, text=True, check=False, timeout=60)
    assert verdict.returncode == 0, verdict.stdout + verdict.stderr
