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

    def fed(self, asked: float, now: float) -> float:
        """mm/s that are melted, of `asked` mm/s."""
        if self.gripped_since is not None and (now - self.gripped_since) % (GRIPS + FREE) < GRIPS:
            return 0.0
        return asked * self.arrives + self.by_itself
