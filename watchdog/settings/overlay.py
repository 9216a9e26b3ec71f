"""A machine's settings with others laid over them: those that stand beside a recording, for its replay."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from watchdog.settings.findings import from_validation
from watchdog.settings.model import Machine
from watchdog.settings.origin import over
from watchdog.settings.problems import BadSettings, dotted


def laid_over(machine: Machine, told: Mapping[str, Any], where: Path) -> Machine:
    """`machine` with what `told` says, table by table. Raises BadSettings with every mistake in it, placed in `where`."""
    own = machine.model_dump(exclude_unset=True, by_alias=True)
    try:
        return Machine.model_validate(over(own, told))
    except ValidationError as error:
        raise BadSettings(
            from_validation(lambda path: f"{where}: {dotted(['settings', *path])}", Machine, error)
        ) from None
