"""How long a condition waits on a machine whose own healthy jobs have shown how long it takes."""

from collections.abc import Mapping
from typing import Final

from watchdog.core.snapshot import Usual

ENOUGH: Final = 20
"""jobs before the longest that a machine showed shortens or lengthens a wait: of so many and one more, the next is the longest
of all in fewer than 5 of 100 cases"""
BEYOND: Final = 1.5
"""times that longest; project's choice"""
_TICK: Final = 2.0  # s: the watch looks once a second, and a line may come just after it


def silence(usual: Mapping[str, Usual], default: float, floor: float) -> float:
    """s that a machine may be silent: 1.5 times its own longest silence over an unanswered line in `ENOUGH` healthy jobs or
    more, from `floor` to twice `default`; `default` where that is not known. A `default` below `floor` stays as it is."""
    told = usual.get("unanswered")
    if told is None or told.most is None or told.jobs < ENOUGH:
        return default
    return min(max(BEYOND * told.most + _TICK, min(floor, default)), 2 * default)


def stillness(usual: Mapping[str, Usual], default: float, floor: float, margin: float) -> float:
    """s that the progress may stand still without a plan: 1.5 times the longest that it stood in `ENOUGH` healthy jobs or more,
    and `margin`, from `floor` to `default`; `default` where that is not known."""
    told = usual.get("progress-gap")
    if told is None or told.most is None or told.jobs < ENOUGH:
        return default
    return min(max(BEYOND * told.most + margin, floor), default)
