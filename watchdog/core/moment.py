"""A point in time, as the shell read it: one clock for durations, one for people."""

from typing import NamedTuple


class Moment(NamedTuple):
    """When something happened.

    The two clocks are never mixed: a stepped wall clock or a summer-time change moves `stamp` and leaves `elapsed` alone,
    so it can neither fire nor hide an alarm.
    """

    elapsed: float
    """s on a clock that never steps back; carried over restarts, blind time included. The only base of a duration."""
    stamp: float
    """s since 1970-01-01T00:00Z. For people and for the record only."""
