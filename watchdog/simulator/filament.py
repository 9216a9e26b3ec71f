"""What becomes of the filament between spool and nozzle. Nothing of it reaches the controller by itself."""

GRIPS = 35.0
"""s for which a tangled spool holds; this and `FREE`: the simulator's own choice"""
FREE = 45.0
"""s for which it runs after that"""


class Filament:
    """Broken parts are plain attributes that the faults set."""

    def __init__(self) -> None:
        self.arrives = 1.0
        """share of what the extruder feeds that comes out; 0 = blocked, or none left"""
        self.gripped_since: float | None = None
        """when the spool first gripped; None: it runs freely"""
        self.by_itself = 0.0
        """mm/s that the extruder feeds without being asked"""
        self.moved = 0.0
        """mm that went past a wheel in its path, either way: such a wheel does not tell which"""
        self._asked = 0.0  # mm: what the extruder had been asked for when last looked at

    def fed(self, asked: float, now: float) -> float:
        """mm/s that are melted, of `asked` mm/s."""
        if self._gripped(now):
            return 0.0
        return asked * self.arrives + self.by_itself

    def pull(self, asked: float, now: float, seconds: float) -> None:
        """The extruder was asked for `asked` mm in all by now, forward and back; the last look was `seconds` ago."""
        more, self._asked = max(0.0, asked - self._asked), asked
        if (more or self.by_itself) and not self._gripped(now):
            self.moved += more * self.arrives + self.by_itself * seconds

    def _gripped(self, now: float) -> bool:
        return self.gripped_since is not None and (now - self.gripped_since) % (GRIPS + FREE) < GRIPS
