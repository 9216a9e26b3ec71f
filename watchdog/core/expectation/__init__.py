"""How long this very job should still take, learnt from this machine's own past.

`prospect` once a job, `forecast` as often as one likes while it runs, `learn` when it has ended.
"""

from watchdog.core.expectation.forecast import Forecast, Prospect, forecast, prospect
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
    "Prospect",
    "Spread",
    "forecast",
    "learn",
    "prospect",
    "refusal",
    "remember",
    "spread",
]
