"""Middle and spread that a few wild values cannot move.

    MAD = median |x - median|        σ ≈ MAD · 1.4826 (1/Φ⁻¹(¾), for normal data)
    modified z = 0.6745 (x - median)/MAD, an outlier above 3.5
    Hodges-Lehmann = median of (xᵢ + xⱼ)/2 over i ≤ j

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17, after Iglewicz & Hoaglin 1993 (cited from memory);
NIST Dataplot reference manual, Hodges-Lehmann location. Results have the unit of the values.
"""

from collections.abc import Sequence
from statistics import median

OUTLIER = 3.5
"""modified z beyond which a value is an outlier (Iglewicz & Hoaglin)"""
_SIGMAS = 1.482602218505602  # 1/Φ⁻¹(3/4)


def deviation(values: Sequence[float]) -> float:
    """Median absolute deviation (MAD), not scaled."""
    middle = median(values)
    return median(abs(value - middle) for value in values)


def sigma(values: Sequence[float]) -> float:
    """Standard deviation of the undisturbed part, if that is normal: MAD · 1.4826."""
    return _SIGMAS * deviation(values)


def modified_z(values: Sequence[float]) -> tuple[float, ...] | None:
    """Modified z of each value; None when more than half of the values are equal, so that the MAD is 0."""
    middle, spread = median(values), sigma(values)
    return None if spread == 0 else tuple((value - middle) / spread for value in values)


def outliers(values: Sequence[float], beyond: float = OUTLIER) -> tuple[float, ...] | None:
    """Values whose modified z lies beyond the limit; None where it cannot be told."""
    scores = modified_z(values)
    if scores is None:
        return None
    return tuple(value for value, score in zip(values, scores, strict=True) if abs(score) > beyond)


def hodges_lehmann(values: Sequence[float]) -> float:
    """Median of all pairwise means (n(n+1)/2 of them: meant for some hundred values)."""
    return median((one + other) / 2 for nth, one in enumerate(values) for other in values[nth:])
