"""Tells a mail server that does not answer from one that cannot be connected to at all.

Both look the same to the delivery library. Many networks drop what goes to port 25, and a second, short connection shows
that.
"""

import socket
from typing import Any

from watchdog.alerts.causes import Cause
from watchdog.alerts.verdict import Verdict

PATIENCE = 4.0  # s; together with the library's 15 s it stays below the time of one attempt


def more_of_mail(verdict: Verdict, service: Any) -> Verdict:
    """`verdict`, told apart where `service` (of the delivery library) is a mail server and was silent. Blocks."""
    host, port = getattr(service, "smtp_host", None), getattr(service, "port", None)
    if verdict.cause is not Cause.SILENT or not isinstance(host, str) or not isinstance(port, int):
        return verdict
    try:
        socket.create_connection((host, port), timeout=PATIENCE).close()
    except TimeoutError:
        return verdict._replace(detail=f"no connection comes about on port {port}", cause=Cause.BLOCKED)
    except OSError:
        return verdict
    return verdict._replace(detail=f"it takes the connection on port {port} and then says nothing")
