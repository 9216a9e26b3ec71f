"""Which port is the printer's, when nobody has named one.

udev keeps a link with a stable name for each USB serial device in /dev/serial/by-id (rules file 60-serial.rules of
systemd). `ttyUSB0` says only who came first. Bridges without a serial number share one by-id name: two of the same make
must be named by /dev/serial/by-path, that is, by socket.
"""

from pathlib import Path

BY_ID = Path("/dev/serial/by-id")

_HOW = 'Name one in the settings: port = "/dev/serial/by-id/…" (or "socket://host:port").'


class PortNotChosen(Exception):
    """No port is named, and it does not follow by itself which one is meant. The message is for the operator."""


class NoPortFound(PortNotChosen):
    """No serial device is plugged in."""


class SeveralPortsFound(PortNotChosen):
    """More than one serial device is plugged in: a guess could open somebody else's."""


def find_port(names: Path = BY_ID) -> Path:
    """The stable name of the only serial device; NoPortFound or SeveralPortsFound otherwise."""
    try:
        links = sorted(link for link in names.iterdir() if link.exists())
    except OSError:
        links = []
    devices = {link.resolve(): link for link in reversed(links)}  # one device may have two names: take the first
    if not devices:
        raise NoPortFound(
            f"No serial device has a name under {names}. Is the printer switched on and plugged in? {_HOW}"
        )
    if len(devices) > 1:
        listed = ", ".join(sorted(link.name for link in devices.values()))
        raise SeveralPortsFound(f"{len(devices)} serial devices are plugged in ({listed}), and none is named. {_HOW}")
    return next(iter(devices.values()))
