"""Word to the service manager: ready, stopping, what goes on, and that the loop still turns.

Source: systemd, sd_notify(3) and sd_watchdog_enabled(3): one datagram of NAME=value lines to the socket that NOTIFY_SOCKET
names (a path, or `@` for the abstract namespace). Without that variable nothing is sent.
"""

import os
import socket
from collections.abc import Mapping


class ServiceManager:
    """Talks to systemd where there is one. Never raises and never waits: the watch matters more than its report."""

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        name = environment.get("NOTIFY_SOCKET", "")
        self._address = "\0" + name[1:] if name.startswith("@") else name
        self.watchdog_pause = _watchdog_pause(environment)
        """s between two signs of life: half of what systemd allows; None when it asks for none. Give the sign from the loop
        that does the work, after it has done some, and never from a timer of its own: a watch that hangs must be restarted.
        A silent machine is an alarm and no reason to withhold it."""

    def ready(self, status: str = "") -> bool:
        """Start-up is complete; the manager's timer starts. True when the word was handed over, as for all below."""
        return self._send("READY=1", status)

    def stopping(self, status: str = "") -> bool:
        """The service ends in good order."""
        return self._send("STOPPING=1", status)

    def status(self, text: str) -> bool:
        """One line for `systemctl status`. Names no person and no file."""
        return self._send("", text)

    def alive(self) -> bool:
        """The loop has done some work since the last sign."""
        return self._send("WATCHDOG=1")

    def _send(self, state: str, status: str = "") -> bool:
        status = " ".join(status.split())  # a line break would begin another assignment
        message = "\n".join(filter(None, (state, f"STATUS={status}" if status else "")))
        if not self._address or not message:
            return False
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC | socket.SOCK_NONBLOCK) as wire:
                wire.sendto(message.encode("utf-8", "replace"), self._address)
        except (OSError, ValueError):  # nobody listens, its queue is full, or the variable holds no address
            return False
        return True


def _watchdog_pause(environment: Mapping[str, str]) -> float | None:
    for_pid = environment.get("WATCHDOG_PID", "")
    if for_pid and for_pid != str(os.getpid()):  # meant for the process that started us
        return None
    try:
        allowed = int(environment.get("WATCHDOG_USEC", ""))
    except ValueError:
        return None
    return allowed / 2e6 if allowed > 0 else None
