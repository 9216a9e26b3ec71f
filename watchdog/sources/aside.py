"""Work that may block, on a thread of its own: a common pool could be full of others that wait for a dead disk."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

Answer = TypeVar("Answer")


def aside(work: Callable[[], Answer]) -> "asyncio.Future[Answer]":
    """Begin `work` on a new thread that ends with it."""
    thread = ThreadPoolExecutor(1, thread_name_prefix="aside")
    begun = asyncio.get_running_loop().run_in_executor(thread, work)
    thread.shutdown(wait=False)
    return begun
