"""What a file is held to, and the faults that its reading collects."""

from dataclasses import dataclass

from watchdog.core.plan import Fault

Span = tuple[float, float]

MOST_FAULTS = 50
"""faults of one name that are told; the rest are only counted in `Plan.odd` and the like"""


@dataclass(frozen=True, slots=True)
class Rules:
    """None = not judged."""

    nozzle: Span | None = None
    """°C: the material's window"""
    bed: Span | None = None
    bounds: tuple[Span, Span, Span] | None = None
    """mm: X, Y, Z of the room that the nozzle may reach"""
    melts_at: float = 170.0
    """°C below which filament must not be pushed; common practice, no source"""
    still_hot: float = 900.0
    """s in one place with heat on and no motion; common practice, no source"""


class Faults:
    """Collects what is wrong, the first of each name only unless told otherwise."""

    def __init__(self) -> None:
        self.found: list[Fault] = []
        self._names: dict[str, int] = {}

    def add(self, name: str, words: str, byte: int | None = None, *, most: int = 1) -> None:
        """Note a fault; beyond `most` of the same name it is dropped."""
        so_far = self._names.get(name, 0)
        self._names[name] = so_far + 1
        if so_far < most:
            self.found.append(Fault(name, words, byte))

    def __contains__(self, name: object) -> bool:
        return name in self._names
