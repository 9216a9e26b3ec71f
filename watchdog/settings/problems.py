"""What is wrong with the settings, said so that a person can mend it: place, what was found, what would be right."""

import difflib
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple, get_args

from pydantic import BaseModel, SecretStr, ValidationError


class Problem(NamedTuple):
    """One mistake."""

    place: str
    """file and dotted path of the setting"""
    fault: str
    """what is wrong and what would be right; one or two sentences. Never holds a value that may be a secret."""

    def __str__(self) -> str:
        return f"{self.place}: {self.fault}"


class BadSettings(Exception):
    """The settings cannot be used. Holds every problem found, not only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        count = len(self.problems)
        ending = f"{count} problem{'s' if count != 1 else ''}; nothing was started."
        super().__init__("\n".join([*map(str, self.problems), ending]))


def nearest(name: str, valid: Iterable[str]) -> str:
    """A hint that names the nearest valid name, or all of them when none is near."""
    names = sorted(valid)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.6)
    if near:
        return f"Did you mean {near[0]}?"
    return f"Valid here: {', '.join(names)}." if len(names) <= 24 else "See the commented example."


def from_validation(where: str, model: type[BaseModel], error: ValidationError) -> list[Problem]:
    """Each of pydantic's findings as a problem of ours."""
    return [_problem(where, model, dict(finding)) for finding in error.errors(include_url=False)]


def _problem(where: str, model: type[BaseModel], finding: dict[str, Any]) -> Problem:
    path = [str(part) for part in finding["loc"] if part != "[key]" and not str(part).startswith("function-")]
    place = f"{where}: {'.'.join(path)}" if path else where
    kind, context = finding["type"], finding.get("ctx", {})
    found = _shown(finding.get("input"), path)
    if kind == "extra_forbidden":
        return Problem(place, f"no such setting. {nearest(path[-1], _names(model, path[:-1]))}")
    if kind == "missing":
        return Problem(place, "is missing and has no default. Add it; the commented example shows how.")
    if kind in {"literal_error", "enum"}:
        expected = str(context.get("expected", ""))
        names = [name.strip(" '") for name in expected.replace(" or ", ",").split(",") if name.strip(" '")]
        hint = nearest(str(finding.get("input")), names) if names else f"Write {expected}."
        return Problem(place, f"{found} is none of the possible values. {hint} Possible: {expected}.")
    if kind in {"greater_than_equal", "less_than_equal", "greater_than", "less_than"}:
        bound = next(context[key] for key in ("ge", "le", "gt", "lt") if key in context)
        side = "at least" if kind.startswith("greater_than_equal") else "at most"
        side = {"greater_than": "more than", "less_than": "less than"}.get(kind, side)
        return Problem(place, f"{found} is out of bounds. It must be {side} {bound:g}.")
    if kind == "value_error":
        return Problem(place, f"{str(context.get('error', finding['msg'])).rstrip('.')}.")
    return Problem(place, f"{found} does not fit: {finding['msg'][0].lower()}{finding['msg'][1:]}.")


def _shown(value: object, path: list[str]) -> str:
    """The value as found, unless it may be a secret."""
    if isinstance(value, SecretStr) or any(word in path[-1:] for word in ("url", "urls")):
        return "the value"
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


def _names(model: type[BaseModel], path: list[str]) -> list[str]:
    """The names that are valid at `path` below `model`."""
    here: Any = model
    for part in path:
        if isinstance(here, type) and issubclass(here, BaseModel):
            by_name = {field.alias or name: field.annotation for name, field in here.model_fields.items()}
            here = _inner(by_name.get(part))
        elif isinstance(here, tuple):  # a mapping: any key leads to the same model
            here = here[0]
    if isinstance(here, type) and issubclass(here, BaseModel):
        return [field.alias or name for name, field in here.model_fields.items()]
    return []


def _inner(annotation: Any) -> Any:
    """The model behind `annotation`; for a mapping a one-tuple of the model of its values."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    arguments = get_args(annotation)
    origin = getattr(annotation, "__origin__", None)
    if isinstance(origin, type) and issubclass(origin, Mapping) and len(arguments) == 2:
        return (_inner(arguments[1]),)
    models = [inner for inner in map(_inner, arguments) if inner is not None]
    return models[0] if models else None
