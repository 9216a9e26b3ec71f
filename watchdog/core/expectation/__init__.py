"""How long this very job should still take, learnt from this machine's own past; `forecast` and `learn` are the two doors."""

from watchdog.core.expectation.forecast import Forecast, forecast
from watchdog.core.expectation.history import History, Past, learn, refusal, remember
from watchdog.core.expectation.left import Between
from watchdog.core.expectation.planned import Planned
from watchdog.core.expectation.spread import Spread, spread

__all__ = [
    "Between",
    "Forecast",
    "History",
    "Past",
    "Planned",
    "Spread",
    "forecast",
    "learn",
    "refusal",
    "remember",
    "spread",
]
