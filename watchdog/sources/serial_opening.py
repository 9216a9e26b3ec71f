"""Opening a port without resetting the machine behind it.

What is done, in this order:
  1. somebody else has the device open: it is left alone;
  2. open without blocking, and flock (both by pyserial, `exclusive=True`);
  3. HUPCL off, so that no close of ours, not even a crash, drops DTR and RTS;
  4. TIOCEXCL, so that later opens by ordinary users fail.

DTR and RTS stay as they are after the open: up. pyserial sets both (TIOCMBIS), which changes nothing, since the kernel has
raised them already; nothing here ever lowers one (TIOCMBIC, TIOCMSET). Lowering them before the open would not help: the
kernel raises them first, so it would only make a short pulse. And some controllers with their own USB say nothing
while DTR is low.

What a board may still do, and no program can prevent: the kernel raises DTR at the first open after the board was plugged
in or the computer started, and at the first open after a close by a program that left HUPCL on (Linux tty_port.c,
tty_port_block_til_ready). A board whose DTR is wired to its reset restarts then, and loses a running job. Cures: open
once when nothing is being built and keep the port; a rule at plug-in that clears HUPCL; or a jumper or capacitor on
the board's reset. Whether one's own board does it is told by the banner after the first open.
Opening `rfc2217://` sets DTR and RTS at the far end, where the same holds.
"""

import errno
import fcntl
import os
import socket
import stat
import termios
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple

import serial

from watchdog.sources.serial_holders import PROCESSES, who_holds

_PSEUDO_TERMINALS = range(136, 144)  # Linux device numbers, Documentation/admin-guide/devices.txt: UNIX98 slaves


class PortRefused(OSError):
    """The port was not opened; the message says why, for the operator."""


class OpenPort(NamedTuple):
    """A port that is open."""

    port: Any
    """pyserial's object"""
    descriptor: int | None
    """to read and write without blocking; None when the kind of port has none that can be used"""
    device: Path | None
    """the device behind the name; None for a URL"""
    lines_may_have_risen: bool
    """HUPCL was on: nobody had kept DTR up before us, so this open may have restarted a board that is wired so"""


def is_url(name: str) -> bool:
    """`name` is a pyserial URL rather than a device file."""
    return "://" in name


def open_port(name: str, baud: int, *, exclusive: bool = True, processes: Path = PROCESSES) -> OpenPort:
    """Open the device or URL. May block for seconds: not for the event loop. OSError with a sentence when it fails."""
    device = None if is_url(name) else Path(name).resolve()
    if device is not None:
        if not device.exists():
            raise PortRefused(errno.ENOENT, f"{name} is not there")
        holders = who_holds(device, processes) if exclusive else []
        if holders:
            by = ", ".join(f"{holder.command} (process {holder.pid})" for holder in holders)
            raise PortRefused(errno.EBUSY, f"{name} is in use by {by}; it is left alone until that ends")
    write_timeout = None if name.startswith("rfc2217://") else 0  # that handler knows no time limit on writing
    try:
        port = serial.serial_for_url(
            str(device or name), baudrate=baud, timeout=0, write_timeout=write_timeout, exclusive=exclusive or None,
            do_not_open=True,
        )  # fmt: skip
        port.open()
    except Exception as fault:  # the handlers of the URL schemes raise all sorts; none of it may end the watch
        raise PortRefused(getattr(fault, "errno", None) or errno.EIO, f"{name} cannot be opened: {fault}") from fault
    try:
        descriptor = _descriptor(port)
        risen = False
        if descriptor is not None and os.isatty(descriptor):
            risen = keep_lines_up(descriptor)
            if exclusive and not _is_pseudo_terminal(descriptor):
                refuse_others(descriptor)
        else:
            _notice_a_dead_peer(port)
    except BaseException:
        port.close()
        raise
    return OpenPort(port, descriptor, device, risen)


def close_port(opened: OpenPort) -> None:
    """Close it. May block: not for the event loop. What was not sent yet is thrown away, else closing waits for it."""
    if opened.descriptor is not None and os.isatty(opened.descriptor):
        with suppress(termios.error):
            termios.tcflush(opened.descriptor, termios.TCOFLUSH)
    with suppress(OSError):
        opened.port.close()


def keep_lines_up(descriptor: int) -> bool:
    """Clear HUPCL, and let an empty read mean 'nothing there' (VMIN 1) rather than look like a hang-up.

    True when HUPCL had been on.
    """
    iflag, oflag, cflag, lflag, ispeed, ospeed, control = termios.tcgetattr(descriptor)
    was_on = bool(cflag & termios.HUPCL)
    control[termios.VMIN], control[termios.VTIME] = 1, 0
    settings = [iflag, oflag, cflag & ~termios.HUPCL, lflag, ispeed, ospeed, control]
    termios.tcsetattr(descriptor, termios.TCSANOW, settings)
    return was_on


def refuse_others(descriptor: int) -> None:
    """TIOCEXCL: later opens fail, except for processes with CAP_SYS_ADMIN.

    Not for a pseudo-terminal: that keeps the mark after our close for as long as its other end is open, which would shut
    ourselves out after a restart.
    """
    fcntl.ioctl(descriptor, termios.TIOCEXCL)


def _is_pseudo_terminal(descriptor: int) -> bool:
    found = os.fstat(descriptor)
    return stat.S_ISCHR(found.st_mode) and os.major(found.st_rdev) in _PSEUDO_TERMINALS


def _descriptor(port: Any) -> int | None:
    try:
        descriptor = port.fileno()
    except (OSError, AttributeError):  # io.UnsupportedOperation is an OSError
        return None
    return descriptor if isinstance(descriptor, int) and descriptor >= 0 else None


def _notice_a_dead_peer(port: Any) -> None:
    """A machine that vanished from the network sends no farewell: ask after 30 s of silence, give up 15 s later."""
    wire = getattr(port, "_socket", None)
    if isinstance(wire, socket.socket):
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        wire.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE, 30)
        wire.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPINTVL, 5)
        wire.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT, 3)
