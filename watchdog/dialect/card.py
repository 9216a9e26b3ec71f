"""Files on the storage card, and where its reader is.

    File opened: cup~1.gco Size: 812345         chosen, not started; the size stands behind the last ` Size:`
    SD printing byte 65536/812345               a file is open: running, held or not yet started alike
    Not SD printing                             no file is being executed
    SD print is paused at 65536/812345          held
    Current file: CUP~1.GCO cup with handle.gcode      short name up to the first blank, then the long one
    CUP~1.GCO 812345                            a line of the card's list

Source: RepRap community wiki, page "G-code", M20 to M30.
"""

import re

from watchdog.core.observations import (
    CardHeld,
    CardIdle,
    CardPresent,
    CardProgress,
    CardWriting,
    FileNamed,
    FileOpened,
    Listing,
    Observation,
    Remark,
)

WHOLE: dict[str, tuple[Observation, ...]] = {
    "Not SD printing": (CardIdle(),),
    "Not SD printing.": (CardIdle(),),
    "Not currently playing": (CardIdle(),),
    "Suspended": (CardHeld(),),
    "SD print paused": (CardHeld(),),
    "Print saved": (CardHeld(),),
    "File opened": (FileOpened(None, None),),
    "File selected": (Remark("File selected"),),  # follows `File opened`, which has said all
    "SD card ok": (CardPresent(True),),
    "Card successfully initialized.": (CardPresent(True),),
    "SD card inserted": (CardPresent(True),),
    # Pulled, or let go on request: whether that is a fault depends on the job, so it is not called one here.
    "SD card released": (CardPresent(False),),
    "SD card removed": (CardPresent(False),),
    "Begin file list": (Listing("Begin file list"),),
    "End file list": (Listing("End file list"),),
    "DIR_EXIT": (Listing("DIR_EXIT"),),
    "Done saving file.": (CardWriting(False),),
    "Done saving file": (CardWriting(False),),
}
"""Lines that mean something only as a whole."""

_PROGRESS = re.compile(r"(?:SD printing byte|(SD print is paused at)) (\d{1,12})/(\d{1,12})", re.ASCII)
_SIZED = re.compile(r"File opened:\s*(.+?)\s+Size:\s*(\d{1,12})", re.ASCII | re.IGNORECASE)
_SELECTED = re.compile(r"File (.+) selected for printing")
_LISTED = re.compile(r"[^\s:\"]+\.\w{1,6} \d{1,12}(?: \S.*)?", re.ASCII)
_NAME_ALONE = re.compile(r"[^\s:\"][^:\"]{0,200}\.(?:gco|gcode|gc|g|nc)", re.ASCII | re.IGNORECASE)
_SHORT = re.compile(r"[^\s.]{1,8}\.\w{1,3}", re.ASCII)


def read_progress(line: str) -> tuple[Observation, ...] | None:
    """The reader's place in the open file, bytes. A place beyond the end is noise."""
    found = _PROGRESS.fullmatch(line)
    if found is None:
        return None
    byte, size = int(found[2]), int(found[3])
    return (CardProgress(byte, size, found[1] is not None),) if byte <= size else None


def read_file(line: str) -> tuple[Observation, ...] | None:
    """A file was opened or chosen, or the machine tells which one is open."""
    if line.startswith("File opened:"):
        sized = _SIZED.fullmatch(line)
        if sized is None:
            name = line[12:].strip()
            return (FileOpened(name or None, None),) if " Size:" not in line else None
        return (FileOpened(sized[1], int(sized[2])),)
    if line.startswith("Now fresh file:"):
        return (FileOpened(line[15:].strip() or None, None),)
    if line.startswith("Current file:"):
        short, _, long = line[13:].strip().partition(" ")
        return (FileNamed(None, None) if not short or short == "(no" else FileNamed(short, long.strip() or None),)
    selected = _SELECTED.fullmatch(line)
    if selected is not None:
        return (FileOpened(selected[1], None),)
    return (CardWriting(True),) if line.startswith("Writing to file:") else None


def read_listed(line: str) -> tuple[Observation, ...] | None:
    """A line of the card's list, or a file name that stands alone.

    Some controllers answer M27 with the open file's name on a line of its own. Inside a list such a line means nothing
    more than that the file is there; only who saw `Begin file list` can tell.
    """
    if line.startswith("DIR_ENTER:") or _LISTED.fullmatch(line):
        return (Listing(line),)
    if _NAME_ALONE.fullmatch(line):
        return (FileNamed(line, None if _SHORT.fullmatch(line) else line),)
    return None
