"""Which few causes make up most of the losses: shares of the whole, largest first (Pareto analysis).

Plain division; the habit is common practice in quality work, no source.
"""

from collections.abc import Mapping
from typing import NamedTuple


class Share(NamedTuple):
    """One cause."""

    name: str
    amount: float
    share: float
    """of the whole, 0 to 1"""
    cumulative: float
    """share of this cause and all larger ones"""


def pareto(amounts: Mapping[str, float]) -> tuple[Share, ...]:
    """Shares in falling order, equal ones by name; empty when the amounts add up to nothing. Amounts are >= 0."""
    if any(not amount >= 0 for amount in amounts.values()):
        raise ValueError("an amount is not negative")
    whole = sum(amounts.values())
    if not whole > 0:
        return ()
    shares, so_far = [], 0.0
    for name, amount in sorted(amounts.items(), key=lambda item: (-item[1], item[0])):
        so_far += amount
        shares.append(Share(name, amount, amount / whole, so_far / whole))
    return tuple(shares)
