"""What the child process is asked to do, as JSON, and what it may answer."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from hashlib import sha256
from typing import Any

from watchdog.jobfile.machine_limits import HeatUp, MachineLimits
from watchdog.jobfile.rules import Rules

MEMORY = 512 * 2**20
"""bytes of address space for the child; it stays far below, this is for the case that it does not"""


class PlanTrouble(Exception):
    """A file has no plan. `kind` says why, for a caller that acts on it; the words are for people."""

    def __init__(self, kind: str, words: str) -> None:
        super().__init__(words)
        self.kind = kind
        """'unreadable', 'still-being-written', 'too-large', 'out-of-time', 'out-of-memory' or 'failed'"""


@dataclass(frozen=True, slots=True)
class Errand:
    """One file to plan for one machine."""

    limits: MachineLimits = field(default_factory=MachineLimits)
    rules: Rules = field(default_factory=Rules)
    engine: str | None = None
    """'plain' or 'vector'; None = the quicker one for the file's size"""
    memory: int = MEMORY

    def to_json(self) -> str:
        """As one line."""
        return json.dumps(asdict(self))

    def fingerprint(self) -> str:
        """Names machine and rules: with the file's digest, the key under which a plan may be kept."""
        return sha256(json.dumps([asdict(self.limits), asdict(self.rules)], sort_keys=True).encode()).hexdigest()


def errand_from_json(text: str) -> Errand:
    """The errand that `to_json` wrote; ValueError or TypeError when it is none."""
    read: dict[str, Any] = json.loads(text)
    return Errand(_limits(read["limits"]), _rules(read["rules"]), read["engine"], int(read["memory"]))


def _limits(read: Mapping[str, Any]) -> MachineLimits:
    heaters = {name: HeatUp(**read[name]) for name in ("nozzle", "bed", "chamber")}
    axes = {name: tuple(read[name]) for name in ("speed", "acceleration", "jerk")}
    return MachineLimits(**{**read, **heaters, **axes})


def _rules(read: Mapping[str, Any]) -> Rules:
    spans = {name: tuple(read[name]) for name in ("nozzle", "bed") if read[name] is not None}
    if read["bounds"] is not None:
        spans["bounds"] = tuple(tuple(span) for span in read["bounds"])
    return Rules(**{**read, **spans})
