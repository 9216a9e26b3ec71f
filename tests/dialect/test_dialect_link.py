"""Acknowledgements, resends, keep-alive, banner, capabilities and the recorder's remarks."""

import pytest

from watchdog.core.observations import (
    Acknowledged,
    Busy,
    Capability,
    Fault,
    FaultKind,
    Firmware,
    HostResumed,
    Idle,
    LineFault,
    LinkDown,
    LinkUp,
    Observation,
    Position,
    Remark,
    Resend,
    ResetCause,
    Setting,
    Started,
    UnknownCommand,
    Unread,
    WatchStarted,
    WatchStopped,
)
from watchdog.core.traffic import Direction
from watchdog.dialect import read

RECEIVED: list[tuple[str, tuple[Observation, ...]]] = [
    ("", ()),
    (" \r", ()),
    ("ok", (Acknowledged(),)),
    ("ok\r", (Acknowledged(),)),
    ("ok\\x0d", (Acknowledged(),)),
    ("ok N128 P15 B3", (Acknowledged(128),)),
    ("ok P15 B3", (Acknowledged(),)),
    ("ok 128", (Acknowledged(128),)),
    ("ok N:128", (Acknowledged(128),)),
    ("ok - ignored", (Acknowledged(), Remark("- ignored"))),
    (
        "ok Emergency Stop Requested - reset or M999",
        (Acknowledged(), Fault(FaultKind.HALT, "Emergency Stop Requested - reset or M999", None, True)),
    ),
    ("ok C: X:41.2500 Y:7.5000 Z:0.6000 E:128.4000", (Acknowledged(), Position(41.25, 7.5, 0.6, 128.4))),
    ("wait", (Idle(),)),
    ("start", (Started(),)),
    ("\x00\x00start", (Started(),)),
    ("\\xff\\xfestart", (Started(),)),
    ("PowerUp", (ResetCause("power-up"),)),
    (" External Reset", (ResetCause("external"),)),
    ("echo: External Reset", (ResetCause("external"),)),
    ("External Reset", (ResetCause("external"),)),
    (" Brown out Reset", (ResetCause("brown-out"), Fault(FaultKind.SUPPLY, "Brown out Reset"))),
    (" Watchdog Reset", (ResetCause("watchdog"), Fault(FaultKind.CONTROLLER, "Watchdog Reset"))),
    (" Software Reset", (ResetCause("software"),)),
    (
        "echo: Free Memory: 5120  PlannerBufferBytes: 1232",
        (Remark("echo: Free Memory: 5120  PlannerBufferBytes: 1232"),),
    ),
    ("Resend: 42", (Resend(42),)),
    ("Resend:42", (Resend(42),)),
    ("rs N42", (Resend(42),)),
    ("rs N42 Expected line number 42", (Resend(42), LineFault("rs N42 Expected line number 42"))),
    ("rs N42 Expected checksum 17", (Resend(42), LineFault("rs N42 Expected checksum 17"))),
    ("skip 55", (Remark("skip 55"),)),
    ("echo:busy: processing", (Busy("processing"),)),
    ("echo:busy: paused for user", (Busy("person"),)),
    ("echo:busy: paused for input", (Busy("input"),)),
    ("busy:processing", (Busy("processing"),)),
    ("busy:heating", (Busy("heating"),)),
    ("busy:paused for user interaction", (Busy("person"),)),
    ("busy:door open", (Busy("door"),)),
    ("busy:counting grains", (Busy("other"),)),
    ('echo:Unknown command: "M798"', (UnknownCommand("M798"),)),
    ('echo:Unknown command: "M155 S2"', (UnknownCommand("M155 S2"),)),
    ("Unknown command:M798", (UnknownCommand("M798"),)),
    ("Unknown command:", (UnknownCommand(""),)),
    ("Unknown M code: M798", (UnknownCommand("M798"),)),
    ("E: Bad M-code 798", (UnknownCommand("M798"),)),
    (
        "FIRMWARE_NAME:own build 3 PROTOCOL_VERSION:1.0 EXTRUDER_COUNT:1",
        (Firmware("FIRMWARE_NAME:own build 3 PROTOCOL_VERSION:1.0 EXTRUDER_COUNT:1"),),
    ),
    ("Cap:AUTOREPORT_TEMP:1", (Capability("AUTOREPORT_TEMP", True),)),
    ("Cap:SDCARD:0", (Capability("SDCARD", False),)),
    (
        "echo:  M92 X80.00 Y80.00 Z400.00 E415.00",
        (Setting("M92", (("X", 80.0), ("Y", 80.0), ("Z", 400.0), ("E", 415.0))),),
    ),
    ("  M203 X250 Y250 Z8 E60", (Setting("M203", (("X", 250.0), ("Y", 250.0), ("Z", 8.0), ("E", 60.0))),)),
    (
        "echo: M205 S0.00 T0.00 B20000.00 J0.02 ; junction",
        (Setting("M205", tuple(zip("STBJ", (0, 0, 2e4, 0.02), strict=True))),),
    ),
    ("M201 X1000.00 Y1000.00", (Setting("M201", (("X", 1000.0), ("Y", 1000.0))),)),
    ("M204 P1250.00 R1250.00 T1500.00", (Setting("M204", (("P", 1250.0), ("R", 1250.0), ("T", 1500.0))),)),
    ("X:41.25 Y:7.50 Z:0.60 E:128.40 Count X:3300 Y:600 Z:240", (Position(41.25, 7.5, 0.6, 128.4),)),
    ("X:41.25 Y:7.50 Z:0.60 E:128.40 Count X:41.25 Y:7.50 Z:0.60 E:9.00", (Position(41.25, 7.5, 0.6, 128.4),)),
    ("X:41.25,Y:7.50,Z:0.60,E:128.40,F:2400", (Position(41.25, 7.5, 0.6, 128.4),)),
    (
        "X:41.250 Y:7.500 Z:0.600 E:0.000 E0:128.4 Count 3300 600 240 Machine 41.250 7.500 0.600 Bed comp 0.000",
        (Position(41.25, 7.5, 0.6, 0.0),),
    ),
    ("Echo:N12 G1 X10 T:204.9 /205.0", (Remark("Echo:N12 G1 X10 T:204.9 /205.0"),)),
    ("DEBUG:block 7", (Remark("DEBUG:block 7"),)),
    ("Info:ready", (Remark("Info:ready"),)),
    ("Warning:bed mesh is old", (Remark("Warning:bed mesh is old"),)),
    ("Fanspeed:128", (Remark("Fanspeed:128"),)),
    ("TargetExtr0:205", (Remark("TargetExtr0:205"),)),
    ("a line that nobody knows", (Unread("a line that nobody knows"),)),
    ("\x00\x00\x00\x00", (Unread("\x00\x00\x00\x00", True),)),
    ("ok T:20\\xff4.87 /205.00", (Acknowledged(), Unread("ok T:20\\xff4.87 /205.00", True))),
    ("\\xf3\\x9c\ufffd", (Unread("\\xf3\\x9c\ufffd", True),)),
]
LINE_FAULTS = [
    "Error:Line Number is not Last Line Number+1, Last Line: 41",
    "Error:expected line 42 got 44",
    "Error:checksum mismatch, Last Line: 41",
    "Wrong checksum",
    "Error:Wrong checksum",
    "Checksum error on line 42",
    "Error:No Checksum with line number, Last Line: 41",
    "Error:No Line Number with checksum, Last Line: 41",
]
REMARKS: list[tuple[str, Observation]] = [
    ("link opened", LinkUp()),
    ("link closed", LinkDown()),
    ("link closed: cable pulled", LinkDown("cable pulled")),
    ("watch started", WatchStarted()),
    ("watch stopped", WatchStopped()),
    ("host resumed after 12.5 s", HostResumed(12.5)),
    ("host resumed after 90 s", HostResumed(90.0)),
    ("host resumed after a while", Unread("host resumed after a while")),
]


@pytest.mark.parametrize(("line", "meaning"), RECEIVED, ids=[line for line, _ in RECEIVED])
def test_a_line_about_the_link_or_the_controller_is_read(line: str, meaning: tuple[Observation, ...]) -> None:
    assert read(Direction.RECEIVED, line) == meaning


@pytest.mark.parametrize("line", LINE_FAULTS)
def test_a_refused_line_is_no_fault_of_the_machine(line: str) -> None:
    """One refused line is routine; an alarm for it would be false."""
    assert read(Direction.RECEIVED, line) == (LineFault(line),)


@pytest.mark.parametrize(("text", "meaning"), REMARKS, ids=[text for text, _ in REMARKS])
def test_a_remark_of_the_recorder_is_read(text: str, meaning: Observation) -> None:
    assert read(Direction.REMARK, text) == (meaning,)


@pytest.mark.parametrize("line", ["okay", "ok.", "okT:20", "starting", "restart", "echo:start", "waiting", "echo:ok"])
def test_a_word_that_only_resembles_is_not_taken_for_the_protocol(line: str) -> None:
    """A banner read where there is none would tell everybody that the job is lost."""
    assert not any(isinstance(told, Acknowledged | Started | Idle) for told in read(Direction.RECEIVED, line))
