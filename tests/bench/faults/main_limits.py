"""Which limit of each alarm trades false alarms for delay most directly, and at which values it is tried."""

from dataclasses import fields
from typing import NamedTuple

from tests.bench.faults.running import TRADES
from watchdog.core import detectors

MAIN = {
    "hot-idle": "dose",
    "job-not-started": "stands",
    "job-stalled": "unplanned",
    "job-late": "factor",
    "silent-hot": "quiet",
    "link-lost": "gone",
    "silent": "quiet",
    "heat-runaway": "rise",
    "heating-stalled": "nozzle_window",
    "heat-not-holding": "hold",
    "temperature-implausible": "falls",
    "extruding-in-place": "most",
    "waiting-for-person": "planned",
    "filament-out": "held",
    "card-fault": "often",
    "link-errors": "most",
    "host-suspended": "asleep",
    "feed-slipping": "share",
    "flow-lost": "block",
    "spool-short": "reserve",
    "unsupervised-hot": "grace",
    "outlasts-supervision": "slack",
    "sensor-limit": "hold",
}
"""alarm → its main limit; one that is told at once by the machine's own word has none"""


class MainLimit(NamedTuple):
    """One alarm's main limit."""

    alarm: str
    limit: str | None
    """None: it has none"""
    default: float | None
    unit: str
    tried: tuple[float, ...]
    """values of the trade-off curve; empty: no curve"""
    fault: str
    """the case that the curve is about"""


def main_limits() -> list[MainLimit]:
    """Every condition that is watched on a machine, in the order of the detectors."""
    trades = {trade.alarm: trade for trade in TRADES}
    rows = []
    for detector in detectors.MACHINE:
        name = MAIN.get(detector.NAME)
        units = {field.name: str(field.metadata.get("unit", "")) for field in fields(detector.Limits)}
        trade = trades.get(detector.NAME)
        tried, fault = ((), "") if trade is None else (trade.values, trade.fault)
        if name is None or name not in units:
            rows.append(MainLimit(detector.NAME, None, None, "", tried, fault))
        else:
            default = float(getattr(detector.Limits(), name))
            rows.append(MainLimit(detector.NAME, name, default, units[name], tried, fault))
    return rows
