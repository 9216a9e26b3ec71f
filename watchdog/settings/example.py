"""The part of the commented example that lists every limit, made from the detectors' declarations.

    python -m watchdog.settings.example config/emberward.toml

writes that part of the file anew; a test holds the two together.
"""

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from textwrap import wrap

from watchdog.core.alarms.table import TABLE
from watchdog.settings.limits import Limit, by_alarm

BEGIN = "# ---- every limit, with its default, its unit and its reason ----"
END = "# ---- end of the limits ----"
_COLUMN = 32  # where the unit and the reason begin


def limits_part() -> str:
    """Everything from `BEGIN` to `END`, each limit commented out with its default."""
    return "\n".join([BEGIN, *_lines(), "", END])


def _lines() -> Iterator[str]:
    for alarm, limits in by_alarm().items():
        row = TABLE[alarm]
        yield ""
        yield f"# {alarm} ({row.priority}): {row.what}."
        yield from wrap(row.condition, 120, initial_indent="# ", subsequent_indent="# ")
        if limits:
            yield f"#[limits.{alarm}]"
            yield from map(_line, limits)
        else:
            yield "# It has no limit of its own."


def _line(limit: Limit) -> str:
    unit = "a plain number" if limit.unit == "1" else limit.unit
    return f"{f'#{limit.name} = {limit.default:g}':<{_COLUMN}} # {unit}: {limit.why}"


def rewritten(text: str) -> str:
    """`text` with the part of the limits made anew. Raises ValueError when it has none."""
    before, _, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not end:
        raise ValueError(f"there are no two lines {BEGIN!r} and {END!r}")
    return before + limits_part() + after


def main(arguments: Sequence[str]) -> int:
    """Rewrite the one file that is named."""
    (name,) = arguments
    file = Path(name)
    file.write_text(rewritten(file.read_text("utf-8")), "utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
