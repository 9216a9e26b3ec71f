"""What can be wrong with a calendar: the calendar itself, or the way to it. No message ever holds an address."""


class UnreadableCalendar(Exception):
    """It is there and cannot be understood. The message names line, fault and remedy."""

    def __init__(self, fault: str, remedy: str, line: int | None = None, place: str | None = None) -> None:
        """`line` counts from 1, None where the fault has no line; `place` names the calendar."""
        self.fault, self.remedy, self.line, self.place = fault, remedy, line, place
        where = [part for part in (place, None if line is None else f"line {line:,}") if part is not None]
        super().__init__(f"{', '.join(where)}{': ' if where else ''}{fault}. {remedy}")

    def at(self, line: int | None) -> "UnreadableCalendar":
        """The same fault with its line, where it has none yet."""
        return self if self.line is not None else UnreadableCalendar(self.fault, self.remedy, line, self.place)


class SourceAway(Exception):
    """It could not be fetched. The message names host or file, reason and remedy."""
