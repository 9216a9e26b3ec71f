"""Each finding of pydantic as a problem of ours, in words that name the remedy."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from watchdog.settings.problems import Problem, nearest, shown
from watchdog.settings.quantities import unit_of

Placing = Callable[[Sequence[str]], str]
"""The place to name for a path: the file with the path, or the environment variable."""

_LIST = 'is no list. Write it as ["…", "…"]'
_TABLE = "is no table. Write its settings below a [heading] of their own"
_NO_SUCH_TYPE = {
    "int_type": "is no whole number. Write one, without quotes",
    "int_parsing": "is no whole number. Write one, without quotes",
    "int_from_float": "is no whole number. Leave out what stands behind the point",
    "float_type": "is no number. Write one, without quotes",
    "float_parsing": "is no number. Write one, without quotes",
    "finite_number": "is no number that can be counted to. Write a smaller one",
    "bool_type": "is neither true nor false. Write one of them, without quotes",
    "bool_parsing": "is neither true nor false. Write one of them, without quotes",
    "string_type": "is no text. Write it in quotes",
    "path_type": "is no path. Write it in quotes, from /",
    "tuple_type": _LIST,
    "frozen_set_type": _LIST,
    "dict_type": _TABLE,
    "model_type": _TABLE,
}
_BOUNDS = {"greater_than_equal": ("ge", "at least"), "less_than_equal": ("le", "at most")}


def from_validation(placing: Placing, model: type[BaseModel], error: ValidationError) -> list[Problem]:
    """Everything that `error` holds."""
    return [_problem(placing, model, dict(finding)) for finding in error.errors(include_url=False)]


def path_of(finding: Mapping[str, Any]) -> list[str]:
    """Where a finding is, as the file would name it."""
    return [str(part) for part in finding["loc"] if part != "[key]"]


def _problem(placing: Placing, model: type[BaseModel], finding: dict[str, Any]) -> Problem:
    path = path_of(finding)
    place = placing(path)
    kind, context = finding["type"], finding.get("ctx", {})
    found = shown(finding.get("input"), path)
    if kind == "extra_forbidden":
        return Problem(place, f"no such setting. {nearest(path[-1], _names(model, path[:-1]))}")
    if kind == "missing":
        return Problem(place, "is missing and has no default. Add it; the commented example shows how.")
    if kind == "too_short":
        return Problem(place, "is empty. Name at least one.")
    if kind in {"literal_error", "enum"}:
        # pydantic tells the possible values as one text: 'serial' or 'log'
        names = str(context["expected"]).replace("'", "").replace(" or ", ", ").split(", ")
        near = nearest(str(finding["input"]), names)
        possible = "" if near.startswith("Valid") else f" Valid here: {', '.join(names)}."
        return Problem(place, f"{found} is not possible here. {near}{possible}")
    if kind in _BOUNDS:
        bound, side = _BOUNDS[kind]
        return Problem(place, f"{found} is out of bounds. It must be {side} {context[bound]:g}{_unit(model, path)}.")
    if kind == "value_error":
        sentence = str(context["error"])
        return Problem(place, f"{found} {sentence}{'' if sentence.endswith(('.', '?')) else '.'}")
    told = _NO_SUCH_TYPE.get(kind, f"does not fit: {finding['msg'][:1].lower()}{finding['msg'][1:]}")
    return Problem(place, f"{found} {told}.")


def _names(model: type[BaseModel], path: Sequence[str]) -> list[str]:
    """The names that are valid at `path` below `model`."""
    here = _below(model, path)
    return [field.alias or name for name, field in here.model_fields.items()] if here is not None else []


def _unit(model: type[BaseModel], path: Sequence[str]) -> str:
    """The unit of the setting at `path`, ready to stand behind a number."""
    parent = _below(model, path[:-1])
    if parent is None or not path:
        return ""
    field = next((field for name, field in parent.model_fields.items() if path[-1] in (name, field.alias)), None)
    return unit_of(_whole(field)) if field is not None else ""


def _whole(field: FieldInfo) -> Any:
    """The annotation with what pydantic has split off from it."""
    return tuple[field.annotation, *field.metadata]  # type: ignore[name-defined]


def _below(model: type[BaseModel], path: Sequence[str]) -> type[BaseModel] | None:
    """The model at `path`; None where there is none."""
    here: Any = model
    for part in path:
        if isinstance(here, type) and issubclass(here, BaseModel):
            by_name = {field.alias or name: field.annotation for name, field in here.model_fields.items()}
            here = by_name.get(part)
        else:  # a mapping: every key leads to the same
            here = get_args(here)[-1] if get_args(here) else None
        here = _model_in(here)
    return here if isinstance(here, type) and issubclass(here, BaseModel) else None


def _model_in(annotation: Any) -> Any:
    """`X` of ``X | None``; a mapping as it is."""
    inner = [part for part in get_args(annotation) if isinstance(part, type) and issubclass(part, BaseModel)]
    is_mapping = getattr(annotation, "__origin__", None) is dict
    return inner[0] if inner and not is_mapping else annotation
