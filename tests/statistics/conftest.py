"""What the checks of published numbers share."""

from collections.abc import Callable
from decimal import Decimal

import pytest


@pytest.fixture
def prints() -> Callable[..., None]:
    """Asserts that numbers, rounded as a source prints them, give every printed digit."""

    def check(values: float | tuple[float, ...], printed: str) -> None:
        found = values if isinstance(values, tuple) else (values,)
        wanted = printed.split()
        assert len(found) == len(wanted)
        for value, text in zip(found, wanted, strict=True):
            exponent = Decimal(text).as_tuple().exponent
            assert isinstance(exponent, int)
            half = 0.5 * 10.0**exponent
            assert abs(value - float(text)) <= half * (1 + 1e-6), f"{value!r} is not printed as {text}"

    return check
