"""What the tests of the job plan share."""

from collections.abc import Callable

import pytest

from watchdog.core.plan import Plan
from watchdog.jobfile.engine import Engine, Made
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain import PlainEngine
from watchdog.jobfile.rules import Rules

WIDE = (1e6, 1e6, 1e6, 1e6)
"""no axis is ever the limit"""


def wide(**changes: object) -> MachineLimits:
    """A machine whose axes never limit it: only the acceleration and the corners count."""
    known: dict[str, object] = {"speed": WIDE, "acceleration": WIDE, "blocks": 5000}
    return MachineLimits(**(known | changes))  # type: ignore[arg-type]


def made_by(
    engine: type[Engine], text: str | bytes, limits: MachineLimits, piece: int = 1 << 20
) -> tuple[Plan, list[Made]]:
    """The plan and every move of a file, fed in pieces."""
    content = text.encode() if isinstance(text, str) else text
    made: list[Made] = []
    running = engine(limits, Rules(), made)
    for at in range(0, len(content), piece):
        running.feed(content[at : at + piece])
    return running.finish(), made


@pytest.fixture(name="wide")
def _wide() -> Callable[..., MachineLimits]:
    return wide


@pytest.fixture
def plain() -> Callable[..., tuple[Plan, list[Made]]]:
    """Plans a text with the plain engine: the plan and its moves."""

    def run(text: str | bytes, limits: MachineLimits, piece: int = 1 << 20) -> tuple[Plan, list[Made]]:
        return made_by(PlainEngine, text, limits, piece)

    return run
