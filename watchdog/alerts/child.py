"""Sends one message along routes and ends: ``python -m watchdog.alerts.child``.

A process of its own, because the delivery library loads hundreds of modules, waits in threads that cannot be stopped, and a
fault in one of its plug-ins must not touch the watch. It gets one JSON object on its standard input, so that no secret
stands among the arguments of a process, and writes one JSON object a route, as soon as that route has answered:

    {"routes": [{"name", "url", "brief", "two_parts"}], "title", "subject", "first", "body", "html", "limit": s,
     "network": {"proxy", "no_proxy", "root"}}
    {"route", "outcome": "delivered" | "failed" | "refused", "detail", "cause": one of `causes.Cause` or null}
"""

import asyncio
import json
import logging
import os
import signal
import sys
from typing import Any

from watchdog.alerts.causes import Cause
from watchdog.alerts.mail_way import more_of_mail
from watchdog.alerts.network import BadRoot, network_of, take_on
from watchdog.alerts.verdict import Verdict, judge
from watchdog.record.parcels import Outcome

_GRACE = 5.0  # s after the limit; then the kernel ends this process even if nobody is left to do it


def main() -> None:
    """Read the request, send, and leave."""
    request = json.load(sys.stdin)
    signal.setitimer(signal.ITIMER_REAL, float(request["limit"]) + _GRACE)  # SIGALRM: its default ends the process
    asyncio.run(_send_all(request))


async def _send_all(request: dict[str, Any]) -> None:
    network = network_of(request.get("network") or {})
    try:
        take_on(network)
    except BadRoot as bad:
        fault = Verdict(Outcome.FAILED, f"the network's root certificate cannot be used: {bad}", Cause.ROOT_FILE)
        for route in request["routes"]:
            _tell(str(route["name"]), fault)
        return
    for done in asyncio.as_completed([_attempt(route, request) for route in request["routes"]]):
        name, verdict = await done
        _tell(name, verdict)
    # An ordinary end, of the loop and of the process, waits for the threads of sends that were given up.
    os._exit(0)


def _tell(name: str, verdict: Verdict) -> None:
    answer = {"route": name, "outcome": verdict.outcome, "detail": verdict.detail, "cause": verdict.cause}
    print(json.dumps(answer), flush=True)


async def _attempt(route: dict[str, Any], request: dict[str, Any]) -> tuple[str, Verdict]:
    name = str(route["name"])
    try:
        return name, await _send(route, request)
    except Exception as fault:  # whatever a plug-in throws; only the kind is told, the text can hold an address
        return name, Verdict(Outcome.FAILED, f"the delivery library failed: {type(fault).__name__}")


async def _send(route: dict[str, Any], request: dict[str, Any]) -> Verdict:
    import apprise  # here alone, so that whoever imports this module does not load it

    from watchdog.alerts.listening import listen  # loads the HTTP library

    listen(inspected=bool((request.get("network") or {}).get("root")))
    # without it nothing tells a permanent refusal; nothing of it leaves this process
    logger = logging.getLogger("apprise")
    logger.setLevel(logging.DEBUG)
    logger.propagate = False
    url = str(route["url"])
    asset = apprise.AppriseAsset(
        app_id="emberward", app_desc="emberward", storage_mode="memory", result_log_disk_size=0
    )
    service = apprise.Apprise.instantiate(url, asset=asset)
    if service is None:
        return Verdict(Outcome.REFUSED, "its address is of no known form; see the route's url in the settings")
    sender = apprise.Apprise(asset=asset)
    sender.add(service)
    title, body, form = _part(service, route, request)
    result = await sender.async_notify(
        title=title, body=body, body_format=form, timeout=float(request["limit"]), log_level=logging.DEBUG
    )
    late = any(one.status == apprise.AppriseResultStatus.TIMEOUT for one in result.results)
    verdict = judge(bool(result), late, (record.message for record in result.logs()), url)
    return verdict if late else await asyncio.to_thread(more_of_mail, verdict, service)


def _part(service: Any, route: dict[str, Any], request: dict[str, Any]) -> tuple[str, str, str]:
    """Title, body and format that suit the route."""
    brief = bool(route.get("brief"))
    if brief and request.get("brief"):
        return "", request.get("brief_in_two" if route.get("two_parts") else "brief") or request["brief"], "text"
    room, url = service.body_maxlen, str(route["url"])
    if not brief and url.lower().startswith(("mailto://", "mailtos://")):
        left = room - len(request["subject"])
        if service.resolve_format("html") == "html" and 0 < len(request["html"]) <= left:
            return request["subject"], request["html"], "html"
        return request["subject"], _cut(request["body"], left), "text"
    if brief or len(request["title"]) + len(request["body"]) > room:
        return "", f"{request['title']}: {request['first']}", "text"
    return request["title"], request["body"], "text"


def _cut(body: str, room: int) -> str:
    """Whole lines, the last one always: it says where the rest is. Else the library would make several messages of it."""
    if len(body) <= room:
        return body
    *lines, last = body.split("\n")
    kept, left = [], room - len(last) - 2
    for line in lines:
        left -= len(line) + 1
        if left < 0:
            break
        kept.append(line)
    return "\n".join((*kept, "…", last))


if __name__ == "__main__":
    main()
