"""The storage card, its jobs, and what is told of their progress."""

import pytest

from watchdog.core.observations import (
    CardHeld,
    CardIdle,
    CardPresent,
    CardProgress,
    CardWriting,
    Command,
    FileNamed,
    FileOpened,
    FlowOverride,
    IdleHeatCut,
    JobDone,
    JobElapsed,
    JobProgress,
    JobStopped,
    Listing,
    Observation,
    Remark,
    SpeedOverride,
)
from watchdog.core.traffic import Direction
from watchdog.dialect import read

LONG = "hull mould, half (2).gcode"
LINES: list[tuple[str, tuple[Observation, ...]]] = [
    ("Begin file list", (Listing("Begin file list"),)),
    ("CLEAT~1.GCO 812345", (Listing("CLEAT~1.GCO 812345"),)),
    (f"CLEAT~1.GCO 812345 {LONG}", (Listing(f"CLEAT~1.GCO 812345 {LONG}"),)),
    ("CLEAT~1.GCO 812345 0x5a3f6c21", (Listing("CLEAT~1.GCO 812345 0x5a3f6c21"),)),
    (
        'CLEAT~1.GCO 812345 0x5a3f6c21 "cleat hook.gcode"',
        (Listing('CLEAT~1.GCO 812345 0x5a3f6c21 "cleat hook.gcode"'),),
    ),
    ('DIR_ENTER: /JOBS/ "jobs"', (Listing('DIR_ENTER: /JOBS/ "jobs"'),)),
    ("DIR_EXIT", (Listing("DIR_EXIT"),)),
    ("End file list", (Listing("End file list"),)),
    ("echo:SD card ok", (CardPresent(True),)),
    ("SD card ok", (CardPresent(True),)),
    ("Card successfully initialized.", (CardPresent(True),)),
    ("SD card inserted", (CardPresent(True),)),
    ("echo:SD card released", (CardPresent(False),)),
    ("SD card removed", (CardPresent(False),)),
    ("echo:Now fresh file: cleat~1.gco", (FileOpened("cleat~1.gco", None),)),
    ("File opened: cleat~1.gco Size: 812345", (FileOpened("cleat~1.gco", 812345),)),
    ("File opened:cleat.gco Size:812345", (FileOpened("cleat.gco", 812345),)),
    ("File opened: the Size: of it.gcode Size: 7", (FileOpened("the Size: of it.gcode", 7),)),
    ("File opened: M104 S0.gcode Size: 7", (FileOpened("M104 S0.gcode", 7),)),
    ("File opened: thermal runaway.gcode Size: 7", (FileOpened("thermal runaway.gcode", 7),)),
    ("File opened: sk\\xe4gg.gcode Size: 812345", (FileOpened("sk\\xe4gg.gcode", 812345),)),
    ("File opened", (FileOpened(None, None),)),
    ("File selected", (Remark("File selected"),)),
    ("File cleat hook.gco selected for printing", (FileOpened("cleat hook.gco", None),)),
    ("SD printing byte 65536/812345", (CardProgress(65536, 812345),)),
    ("SD printing byte 0/0", (CardProgress(0, 0),)),
    ("Not SD printing", (CardIdle(),)),
    ("Not SD printing.", (CardIdle(),)),
    ("Not currently playing\r", (CardIdle(),)),
    ("SD print is paused at 65536/812345", (CardProgress(65536, 812345, True),)),
    ("Suspended", (CardHeld(),)),
    ("SD print paused", (CardHeld(),)),
    ("Print saved", (CardHeld(),)),
    ("cleat~1.gco", (FileNamed("cleat~1.gco", None),)),
    ("cleat hook of lesson 4.gcode", (FileNamed("cleat hook of lesson 4.gcode", "cleat hook of lesson 4.gcode"),)),
    ("0:47", (JobElapsed(2820.0),)),
    (f"Current file: CLEAT~1.GCO {LONG}", (FileNamed("CLEAT~1.GCO", LONG),)),
    ("Current file: CLEAT~1.GCO", (FileNamed("CLEAT~1.GCO", None),)),
    ("Current file: (no file)", (FileNamed(None, None),)),
    ("echo:Print time: 1h 4m 9s", (JobElapsed(3849.0),)),
    ("echo:Print time: 2d 0h 3m 0s", (JobElapsed(172980.0),)),
    ("echo:Print time: 59s", (JobElapsed(59.0),)),
    ("echo:3 hours 12 minutes", (JobElapsed(11520.0),)),
    ("echo: M73 Progress: 42%; Time left: 37m; Change: 12m;", (JobProgress(42.0, 2220.0),)),
    ("echo: M73 Progress: 42%;", (JobProgress(42.0, None),)),
    (
        "NORMAL MODE: Percent done: 42; print time remaining in mins: 37; Change in mins: -1",
        (JobProgress(42.0, 2220.0),),
    ),
    ("NORMAL MODE: Percent done: -1; print time remaining in mins: -1; Change in mins: -1", (JobProgress(None, None),)),
    (
        "SILENT MODE: Percent done: 42; print time remaining in mins: 41; Change in mins: -1",
        (Remark("SILENT MODE: Percent done: 42; print time remaining in mins: 41; Change in mins: -1"),),
    ),
    ("Stats: Prints: 120, Finished: 96, Failed: 23", (Listing("Stats: Prints: 120, Finished: 96, Failed: 23"),)),
    ("Stats: Filament used: 3120.55m", (Listing("Stats: Filament used: 3120.55m"),)),
    ("Done printing file", (JobDone(),)),
    ("SD file done.", (JobDone(),)),
    ("Finished printing file cleat.gcode, print time was 3h 12m", (JobDone(), JobElapsed(11520.0))),
    ("Finished printing file cleat.gcode", (JobDone(),)),
    ("Cancelled printing file cleat.gcode, print time was 0h 12m", (JobStopped(), JobElapsed(720.0))),
    ("SD print stopped by user.", (JobStopped(),)),
    ("FR:100%", (SpeedOverride(100.0),)),
    ("SpeedMultiply:150", (SpeedOverride(150.0),)),
    ("echo:E0 Flow: 100%", (FlowOverride(100.0),)),
    ("echo:E1 Flow: 90%", (Remark("echo:E1 Flow: 90%"),)),
    ("FlowMultiply:95", (FlowOverride(95.0),)),
    ("E0:4920 RPM PRN1:3120 RPM E0@:255 PRN1@:128", (Listing("E0:4920 RPM PRN1:3120 RPM E0@:255 PRN1@:128"),)),
    ("Writing to file: cleat.gco", (CardWriting(True),)),
    ("Done saving file.", (CardWriting(False),)),
    (
        'echo:SUBROUTINE CALL target:"a.gco" parent:"b.gco" pos4711',
        (Remark('echo:SUBROUTINE CALL target:"a.gco" parent:"b.gco" pos4711'),),
    ),
    ("echo:END SUBROUTINE", (Remark("echo:END SUBROUTINE"),)),
    ("echo:Hotend Idle Timeout", (IdleHeatCut(),)),
    ('echo:enqueueing "M24"', (Remark('enqueueing "M24"'), Command("M24", (), ""))),
    (
        'echo:enqueing "M23 cleat~1.gco"',
        (Remark('enqueing "M23 cleat~1.gco"'), Command("M23", (), "cleat~1.gco")),
    ),
]


@pytest.mark.parametrize(("line", "meaning"), LINES, ids=[line for line, _ in LINES])
def test_a_line_about_the_card_or_the_job_is_read(line: str, meaning: tuple[Observation, ...]) -> None:
    assert read(Direction.RECEIVED, line) == meaning


@pytest.mark.parametrize(
    "line",
    [
        "SD printing byte 65536/8123",
        "SD printing byte 65536/812345x",
        "SD printing byte 655 36/812345",
        "SD printing byte 655\\xff6/812345",
        "SD printing byte 6553\x006/812345",
        "SD printing byte -5/812345",
        "xSD printing byte 65536/812345",
        "File opened: cleat.gco Size: 81\x002345",
        "Print time: 4h\\xff 3m",
    ],
)
def test_a_damaged_counter_gives_no_number(line: str) -> None:
    """A counter that seems to run back would be told as a card fault."""
    numbers = (CardProgress, FileOpened, JobElapsed)
    assert not any(isinstance(told, numbers) for told in read(Direction.RECEIVED, line))
