"""Where everything is said. Names of machines and alarms are plain (letters, digits, '-', '_'), so they need no escape.

<base>/availability                              retained   online, or offline (also the Last Will)
<base>/machine/<name>/state                      retained   JSON
<base>/machine/<name>/alarm/<alarm>              retained   JSON; empty once it is cleared
<base>/machine/<name>/event                                 JSON, one thing that happened
<base>/machine/<name>/acknowledge/<alarm>        heard      who takes it on
"""

from typing import NamedTuple


class Topics(NamedTuple):
    """The topics of one service."""

    base: str

    @property
    def availability(self) -> str:
        """Whether the service is there."""
        return f"{self.base}/availability"

    def state(self, machine: str) -> str:
        """What the machine does."""
        return f"{self.base}/machine/{machine}/state"

    def alarm(self, machine: str, alarm: str) -> str:
        """An alarm as it stands."""
        return f"{self.base}/machine/{machine}/alarm/{alarm}"

    def event(self, machine: str) -> str:
        """What happens at the machine."""
        return f"{self.base}/machine/{machine}/event"

    @property
    def acknowledgements(self) -> str:
        """The filter of everything that people take on."""
        return f"{self.base}/machine/+/acknowledge/+"

    def acknowledged(self, topic: str) -> tuple[str, str] | None:
        """(machine, alarm) of a topic below `acknowledgements`; None for any other."""
        parts = topic.removeprefix(f"{self.base}/").split("/")
        if topic.startswith(f"{self.base}/") and len(parts) == 4 and (parts[0], parts[2]) == ("machine", "acknowledge"):
            return parts[1], parts[3]
        return None
