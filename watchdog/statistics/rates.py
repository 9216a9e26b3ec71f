"""How well the rate of Poisson events is known from k of them in an observation time.

    two-sided   χ²(α/2; 2k)/2T  to  χ²(1-α/2; 2k+2)/2T        one-sided upper   χ²(C; 2k+2)/2T

Source: Gehrels, The Astrophysical Journal 303 (1986), 336: confidence limits for small numbers of events.
Exposure in any unit of time; the rate is per that unit. An interval is (low, high).
"""

from watchdog.statistics.quantiles import chi_square_quantile


def rate_interval(events: int, exposure: float, confidence: float = 0.95) -> tuple[float, float]:
    """Two-sided exact interval of the rate; its low end is 0 when nothing happened."""
    tail = (1 - confidence) / 2
    return rate_lower(events, exposure, 1 - tail), rate_upper(events, exposure, 1 - tail)


def rate_upper(events: int, exposure: float, confidence: float = 0.95) -> float:
    """One-sided upper bound of the rate; about 3/T at 95 % when nothing happened."""
    _check(events, exposure, confidence)
    return chi_square_quantile(confidence, 2 * events + 2) / (2 * exposure)


def rate_lower(events: int, exposure: float, confidence: float = 0.95) -> float:
    """One-sided lower bound of the rate; 0 when nothing happened."""
    _check(events, exposure, confidence)
    return 0.0 if events == 0 else chi_square_quantile(1 - confidence, 2 * events) / (2 * exposure)


def _check(events: int, exposure: float, confidence: float) -> None:
    if events < 0 or not exposure > 0:
        raise ValueError("a rate needs a time above 0 and no negative count")
    if not 0 < confidence < 1:
        raise ValueError("a confidence lies between 0 and 1, both excluded")
