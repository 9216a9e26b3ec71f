"""The ground truth of each fault: which alarm is right, what may follow it, and by when it must have come.

`must_by` is the time that the condition takes by its own definition (a hold is planned for two minutes, a nozzle may stand
hot for twenty) and half of the time in which the alarm asks people to respond.
"""

from typing import NamedTuple

HALTS = frozenset({"controller-halted", "controller-restarted", "silent", "silent-hot"})
"""what may follow when the controller protects itself: it says so, restarts, or says no more"""
HEAT = frozenset({"heat-not-holding", "heat-runaway", "heating-stalled"})
WIRE, POWER, NOBODY = "yes", "in the heater's power alone", "nothing to tell"
SENSOR = "by the sensor"


class Case(NamedTuple):
    """One fault, and what ought to come of it."""

    fault: str
    right: frozenset[str]
    """any of these names the cause; empty: nobody is to be called"""
    must_by: float
    """s from the onset"""
    follow: frozenset[str] = frozenset()
    """alarms that may come as well"""
    shows: str = WIRE
    """whether its sign is on the wire"""
    from_job_end: bool = False
    """the condition begins with the job's end, not when the fault strikes"""
    streamed: bool = False
    """a computer streams the job; else it runs from the card"""
    motion: bool = False
    """a wheel in the filament's path tells how far it turns"""
    scene: bool = False
    """no fault: one of the simulator's scenes, in which nobody is to be called"""
    planned: bool = False
    """the watch has the files of the card; else it knows nothing of what a card job will do"""

    @property
    def name(self) -> str:
        """What it is called in the tables."""
        beside = ", streamed" * self.streamed + ", motion sensor" * self.motion + ", with its file" * self.planned
        return self.fault + beside

    @property
    def after(self) -> float:
        """s that are recorded from the onset on."""
        return self.must_by + 60.0


def _case(fault: str, right: str, must_by: float, follow: frozenset[str] = frozenset(), shows: str = WIRE) -> Case:
    return Case(fault, frozenset(right.split()), must_by, follow, shows)


def _streamed(fault: str, right: str, must_by: float, follow: str = "", *, motion: bool = False) -> Case:
    shows = SENSOR if motion else WIRE
    return Case(
        fault, frozenset(right.split()), must_by, frozenset(follow.split()), shows, streamed=True, motion=motion
    )


def _scene(name: str, *, streamed: bool = False, planned: bool = False) -> Case:
    return Case(name, frozenset(), 0.0, shows=NOBODY, streamed=streamed, scene=True, planned=planned)


CASES: tuple[Case, ...] = (
    _case("cable-pulled", "link-lost", 330),
    _case("card-error", "card-fault", 120, frozenset({"job-stalled"})),
    _case("card-pulled", "card-fault", 120),
    _case("counter-back", "card-fault", 120),
    _case("fan-on-block", "heat-not-holding heat-runaway", 330, HEAT | HALTS),
    _case("filament-change-waits", "waiting-for-person", 430, frozenset({"hot-idle"})),
    _case("frozen-extruding", "silent-hot", 60),
    _case("frozen-hot", "silent-hot", 60),
    _case("halt", "controller-halted", 60, HALTS),
    _case("heater-open", "heat-not-holding heat-runaway", 330, HEAT | HALTS),
    _case("heater-weak", "heat-not-holding heat-runaway", 330, HEAT | HALTS),
    _case("hot-after-job", "hot-idle", 1500)._replace(from_job_end=True),
    _case("hot-after-load", "hot-idle", 1620),
    _case("job-not-started", "job-not-started hot-idle", 1500, frozenset({"hot-idle"})),
    # A damaged question carries no checksum: it may arrive as an order to pause (M27 as M25), and the machine then waits.
    _case("noise", "link-errors", 1200, frozenset({"waiting-for-person", "hot-idle"})),
    _case("nozzle-jam", "flow-lost feed-slipping", 300, shows=POWER),
    _case("paused-forgotten", "waiting-for-person job-stalled", 600, frozenset({"hot-idle"})),
    _case("port-reset", "", 120, shows=NOBODY),
    _case("preheat-forgotten", "hot-idle", 1620),
    _case("restart", "controller-restarted", 300),
    _case("run-out-told", "filament-out waiting-for-person", 430, frozenset({"waiting-for-person", "hot-idle"})),
    _case("run-out-unseen", "flow-lost feed-slipping", 300, shows=POWER),
    _case("runaway", "heat-runaway", 90, frozenset({"temperature-implausible", "hot-idle"}) | HALTS),
    _case("sensor-drifting", "temperature-implausible heat-not-holding", 420, HEAT | HALTS, POWER),
    _case("sensor-loose", "heat-not-holding heat-runaway temperature-implausible", 330, HEAT | HALTS),
    _case("sensor-open", "temperature-implausible", 60, HALTS),
    _case("sensor-short", "temperature-implausible", 60, HALTS),
    _case("sensor-slipping", "heat-not-holding heat-runaway temperature-implausible", 330, HEAT | HALTS),
    _case("slow", "", 600, shows=NOBODY),
    _case("stall", "job-stalled", 450),
    _case("tangle", "flow-lost feed-slipping", 300, shows=POWER),
    _case("speed-60", "", 600, shows=NOBODY),
    # As above; and where the `ok` is lost the program may wait for it for good, with the nozzle over the part.
    _streamed("bytes-lost", "link-errors", 1200, "waiting-for-person job-stalled hot-idle"),
    _streamed("cable-noisy", "link-errors", 1200, "waiting-for-person job-stalled hot-idle"),
    # The log says nothing while the computer sleeps, 400 s at the most; then half of the ten minutes to respond. Until it
    # wakes, a log cannot tell a sleeping computer from a controller that says nothing.
    _streamed("computer-asleep", "host-suspended", 700, "job-stalled silent-hot"),
    _streamed("frozen-extruding", "silent-hot", 60),
    _streamed("nozzle-jam", "feed-slipping flow-lost", 300, motion=True),
    # So much plastic in one place cools the nozzle, and the controller may protect itself.
    _streamed("places-lost", "extruding-in-place", 60, " ".join(sorted(HEAT | HALTS))),
    _streamed("program-gone", "job-stalled silent-hot", 450, "silent-hot job-stalled hot-idle"),
    _streamed("restart", "controller-restarted", 300),
    _streamed("run-out-unseen", "feed-slipping flow-lost", 300, motion=True),
    _streamed("tangle", "feed-slipping flow-lost", 300, motion=True),
    _scene("clock-step"),
    # Without its file nobody can tell a card job's dwell from a stall: neither is on the wire.
    _scene("long-dwell", planned=True),
    _scene("long-dwell", streamed=True),
    _scene("long-file-name"),
    _scene("second-job-at-once"),
    _scene("second-job-at-once", streamed=True),
    _scene("slow-bed"),
    _scene("slow-bed", streamed=True),
    _scene("summer-time"),
)
