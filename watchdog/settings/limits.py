"""The detectors' limits as settings, made from the detectors' own declarations, so that the two cannot differ."""

from collections.abc import Iterator, Mapping
from dataclasses import Field as DataclassField
from dataclasses import fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, create_model

from watchdog.core import detectors
from watchdog.settings.quantities import Unit, no_truth, seconds

_STRICT = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True)


class Limit(NamedTuple):
    """One limit of one alarm, as declared."""

    name: str
    default: float
    unit: str
    why: str


IN_ORDER: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "hot-idle": (("floor", "cap"), ("dose", "purge_from", "inspect_from", "left_on_from")),
    "temperature-implausible": (("lowest", "highest"),),
}
"""Limits that make no sense unless each is at most the next."""


def _one(declared: DataclassField[Any]) -> tuple[Any, Any]:
    facts = declared.metadata
    kind = int if declared.type in (int, "int") else float
    reading = BeforeValidator(seconds if facts["unit"] == "s" else no_truth)
    measured: Any = Annotated[kind, reading, Unit(facts["unit"])]
    return (measured | None, Field(default=None, ge=facts["least"], le=facts["most"], description=facts["why"]))


def _all() -> type[BaseModel]:
    tables: Any = {}
    for detector in detectors.ALL:
        entries: Any = {field.name: _one(field) for field in fields(detector.Limits)}
        if entries:
            table = create_model(detector.NAME, __config__=_STRICT, **entries)
            tables[_attribute(detector.NAME)] = (table | None, Field(default=None, alias=detector.NAME))
    return create_model("AlarmLimits", __config__=_STRICT, **tables)


def _attribute(alarm: str) -> str:
    return alarm.replace("-", "_")


if TYPE_CHECKING:

    class AlarmLimits(BaseModel):
        """One optional table for each alarm: ``[limits.hot-idle]``."""

else:
    AlarmLimits = _all()


def overridden(start: Any, alarm: str, *layers: AlarmLimits | None) -> Any:
    """`start` with what the layers set for `alarm`; later layers win."""
    changes: dict[str, Any] = {}
    for layer in layers:
        table: BaseModel | None = getattr(layer, _attribute(alarm), None)
        if table is not None:
            changes.update(table.model_dump(exclude_none=True))
    return replace(start, **changes) if changes else start


def out_of_order(alarm: str, limits: Any) -> Iterator[tuple[str, str]]:
    """Neighbours of `IN_ORDER` of which the first is greater than the second."""
    for chain in IN_ORDER.get(alarm, ()):
        for lesser, greater in pairwise(chain):
            if getattr(limits, lesser) > getattr(limits, greater):
                yield lesser, greater


def by_alarm() -> Mapping[str, tuple[Limit, ...]]:
    """Every limit of every alarm, in the order of the alarm table: for the example file and the manual."""
    return {
        detector.NAME: tuple(
            Limit(field.name, field.default, field.metadata["unit"], field.metadata["why"])  # type: ignore[arg-type]
            for field in fields(detector.Limits)
        )
        for detector in detectors.ALL
    }
