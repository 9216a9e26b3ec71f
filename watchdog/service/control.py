"""The control socket: a request a line, an answer a line, both JSON objects.

The socket lies in a folder that only the service's own account (and root) can enter; who connects is told by the kernel.
"""

import asyncio
import json
import os
import pwd
import socket
import struct
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

Answer = dict[str, Any]
Handler = Callable[[str, dict[str, Any]], Awaitable[Answer]]
"""(account that asks, request) → answer; raises ValueError with a sentence for a request that cannot be met"""

LONGEST = 1 << 20  # bytes of one request or answer


class NotRunning(Exception):
    """Nobody listens at the control socket."""


async def serve(place: Path, handle: Handler, ready: Callable[[], None] = lambda: None) -> None:
    """Answer requests at `place` until cancelled. Raises OSError when the socket cannot be made."""
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    place.unlink(missing_ok=True)  # a left-over: the single-instance lock says that nobody else runs

    async def meet(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            async with asyncio.timeout(10):
                asked = await reader.readline()
            answer = await _answer(asked, _account(writer), handle)
            writer.write(json.dumps(answer).encode() + b"\n")
            async with asyncio.timeout(10):
                await writer.drain()
        except (TimeoutError, ValueError, OSError):
            pass  # a caller that hangs, floods or goes away loses its answer and nobody else's
        finally:
            writer.close()

    before = os.umask(0o077)
    try:
        server = await asyncio.start_unix_server(meet, str(place), limit=LONGEST)
    finally:
        os.umask(before)
    ready()
    try:
        async with server:
            await server.serve_forever()
    finally:
        place.unlink(missing_ok=True)


async def _answer(asked: bytes, account: str, handle: Handler) -> Answer:
    try:
        request = json.loads(asked)
        if not isinstance(request, dict):
            raise ValueError("a request is a JSON object")
        return {"ok": True, **await handle(account, request)}
    except ValueError as refused:
        return {"ok": False, "error": str(refused)}


def _account(writer: asyncio.StreamWriter) -> str:
    """The account at the other end, as the kernel tells it."""
    raw = writer.get_extra_info("socket").getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
    user = struct.unpack("3i", raw)[1]
    try:
        return pwd.getpwuid(user).pw_name
    except KeyError:
        return f"uid {user}"


def ask(place: Path, request: dict[str, Any], limit: float = 15.0) -> Answer:
    """Ask the running service.

    Raises NotRunning when none listens, OSError when it takes the question and gives no answer in `limit` s, ValueError with
    its sentence when it refuses.
    """
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
        wire.settimeout(limit)
        try:
            wire.connect(str(place))
        except PermissionError:
            raise ValueError(f"{place}: this account may not talk to the service. Use sudo, or its account.") from None
        except OSError as error:
            raise NotRunning(f"no service answers at {place}: {error.strerror or error}") from None
        wire.sendall(json.dumps(request).encode() + b"\n")
        with wire.makefile("rb") as answers:
            raw = answers.readline(LONGEST)
    if not raw:
        raise ValueError("the service closed the line without an answer")
    answer: Answer = json.loads(raw)
    if not answer.get("ok"):
        raise ValueError(str(answer.get("error", "refused")))
    return answer
