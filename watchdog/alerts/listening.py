"""Looks at every HTTP answer before the delivery library does. In the process that sends alone.

All of the library's plug-ins go through `requests`, and each step of a redirection through one method of its adapter. What
did not come from the service becomes an exception there, which a plug-in takes for a broken connection, and logs.
"""

from typing import Any

from watchdog.alerts.portal import SIGNS, Answer, stood_in

_listening = False


def listen(*, inspected: bool) -> None:
    """From now on. `inspected`: the network looks into encrypted traffic, so that it can answer there as well."""
    global _listening
    if _listening:
        return
    _listening = True
    import requests
    from requests.adapters import HTTPAdapter

    class StoodIn(requests.ConnectionError):
        """Somebody else answered."""

    plain = HTTPAdapter.send

    def send(self: Any, request: Any, *args: Any, **kwargs: Any) -> Any:
        answer = plain(self, request, *args, **kwargs)
        verified = str(request.url).startswith("https://") and kwargs.get("verify", True) is not False
        cause = stood_in(_seen(request, answer), verified and not inspected)
        if cause is not None:
            answer.close()
            raise StoodIn(SIGNS[cause])
        return answer

    HTTPAdapter.send = send  # type: ignore[method-assign]


def _seen(request: Any, answer: Any) -> Answer:
    kind = str(answer.headers.get("Content-Type", ""))
    wanted = 200 <= answer.status_code < 300 and "json" not in kind.lower()
    location = answer.headers.get("Location")
    start = answer.content[:1024] if wanted else b""
    return Answer(str(request.method), str(request.url), answer.status_code, location, kind, start)
