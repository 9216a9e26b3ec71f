"""What the planning of job files needs to know: how a machine moves, and when somebody is there."""

from typing import Annotated, Literal

from pydantic import Field

from watchdog.settings.base import Model
from watchdog.settings.kinds import Day
from watchdog.settings.quantities import Count, Number, Seconds, Unit

_Speed = Annotated[Number, Unit("mm/s")]
_Acceleration = Annotated[Number, Unit("mm/s²")]


_Span = tuple[Annotated[Number, Unit("mm")], Annotated[Number, Unit("mm")]]


class Motion(Model):
    """How a machine moves, as far as the duration of a job depends on it. Its manual or `M503` tells; a job file's own commands
    (M201 and the like) win while that file is planned."""

    speed: tuple[_Speed, _Speed, _Speed, _Speed] | None = None
    """highest speed of X, Y, Z and the filament (M203)"""
    acceleration: tuple[_Acceleration, _Acceleration, _Acceleration, _Acceleration] | None = None
    """highest acceleration of X, Y, Z and the filament (M201)"""
    printing: _Acceleration | None = Field(default=None, ge=1, le=100_000)
    """acceleration of moves that feed filament (M204 P)"""
    travelling: _Acceleration | None = Field(default=None, ge=1, le=100_000)
    """of moves that feed none (M204 T)"""
    retracting: _Acceleration | None = Field(default=None, ge=1, le=100_000)
    """of the filament alone (M204 R)"""
    corners: Literal["deviation", "jerk"] | None = None
    """which rule bounds the speed at corners: junction deviation, or a speed that may change at once"""
    deviation: Annotated[Number, Unit("mm")] | None = Field(default=None, gt=0, le=1)
    """junction deviation (M205 J)"""
    jerk: tuple[_Speed, _Speed, _Speed, _Speed] | None = None
    """speed that X, Y, Z and the filament may change at once (M205 X Y Z E)"""
    blocks: Count | None = Field(default=None, ge=2, le=1024)
    """moves that the planner holds"""
    commands_per_second: Annotated[Number, Unit("1/s")] | None = Field(default=None, ge=1, le=100_000)
    """the most that the card or the line delivers; no bound when left out"""
    room: tuple[_Span, _Span, _Span] | None = None
    """mm that the nozzle may reach along X, Y and Z; not judged when left out"""
    homing: Seconds | None = Field(default=None, ge=0, le=1800)
    """s that homing all axes takes"""
    probing: Seconds | None = Field(default=None, ge=0, le=3600)
    """s that probing the build surface takes"""


class Hours(Model):
    """Supervised hours of each day, as ["13:00-21:00"]; a day that is left out has none. Without any day nothing is judged."""

    mon: Day = ()
    tue: Day = ()
    wed: Day = ()
    thu: Day = ()
    fri: Day = ()
    sat: Day = ()
    sun: Day = ()
