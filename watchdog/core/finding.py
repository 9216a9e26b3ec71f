"""What a detector answers: present, absent, or cannot tell."""

from collections.abc import Mapping
from dataclasses import dataclass, field

Evidence = Mapping[str, float | int | str | None]
"""What was seen, in plain words and numbers: keys are snake_case with their unit where it is not obvious."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One detector's answer about one snapshot."""

    present: bool | None
    """None: cannot tell from what is known now. An alarm then stays as it is."""
    evidence: Evidence = field(default_factory=dict)
    urgent: bool = False
    """True lifts the alarm to urgent whatever its row in the alarm table says (a card fault that repeats while hot)."""


ABSENT = Finding(False)
UNKNOWN = Finding(None)
