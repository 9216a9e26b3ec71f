"""The detectors' limits as settings, made from the detectors' own declarations, so that the two cannot differ."""

from collections.abc import Mapping
from dataclasses import Field as DataclassField
from dataclasses import fields, replace
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, create_model

from watchdog.core import detectors
from watchdog.settings.quantities import seconds

_STRICT = ConfigDict(extra="forbid", populate_by_name=False, allow_inf_nan=False)


def _one(declared: DataclassField[Any]) -> tuple[Any, Any]:
    facts = declared.metadata
    kind: Any = int if declared.type in (int, "int") else float
    if facts["unit"] == "s":
        kind = Annotated[float, BeforeValidator(seconds)]
    description = f"{facts['unit']}: {facts['why']}"
    return (kind | None, Field(default=None, ge=facts["least"], le=facts["most"], description=description))


def model_of(name: str, declared: type[Any]) -> type[BaseModel]:
    """A settings model with one optional entry for each field of a frozen `Limits`."""
    entries: Any = {field.name: _one(field) for field in fields(declared) if "unit" in field.metadata}
    return create_model(name, __config__=_STRICT, **entries)


def _all() -> type[BaseModel]:
    entries: Any = {
        detector.NAME.replace("-", "_"): (
            model_of(detector.NAME, detector.Limits) | None,
            Field(default=None, alias=detector.NAME),
        )
        for detector in detectors.ALL
        if fields(detector.Limits)
    }
    return create_model("AlarmLimits", __config__=_STRICT, **entries)


AlarmLimits: Any = _all()
"""One optional table for each alarm: ``[limits.hot-idle]``"""


def overridden(start: Any, alarm: str, *layers: BaseModel | None) -> Any:
    """`start` with what the layers set for `alarm`; later layers win."""
    changes: dict[str, Any] = {}
    for layer in layers:
        table = getattr(layer, alarm.replace("-", "_"), None) if layer is not None else None
        if table is not None:
            changes.update({name: value for name, value in table.model_dump().items() if value is not None})
    return replace(start, **changes) if changes else start


def described(declared: type[Any]) -> list[tuple[str, float, str, str]]:
    """(name, default, unit, reason) of each limit: for the manual and the example file."""
    return [
        (field.name, field.default, field.metadata["unit"], field.metadata["why"])  # type: ignore[misc]
        for field in fields(declared)
        if "unit" in field.metadata
    ]


def by_alarm() -> Mapping[str, list[tuple[str, float, str, str]]]:
    """Every limit of every alarm."""
    return {detector.NAME: described(detector.Limits) for detector in detectors.ALL}
