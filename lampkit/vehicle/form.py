"""A document held against a JSON Schema: those rules of the standard that schema.json uses, every break of one."""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import reduce
from typing import Any

Path = tuple[str | int, ...]
"""The way through a document to a value: keys, and places in lists."""

Test = Callable[[Any, Any], bool]


@dataclass(frozen=True)
class Break:
    """One rule that one value breaks: the name of the rule, its bound, the schema it stands in, and the way there."""

    path: Path
    rule: str
    bound: Any
    value: Any
    schema: Mapping[str, Any]


def is_number(value: object) -> bool:
    """Tell a finite number; a truth is a number for Python only, and a whole number may be too large to be a float."""
    return type(value) is int or (isinstance(value, float) and math.isfinite(value))


def _is_whole(value: object) -> bool:
    return type(value) is int or (isinstance(value, float) and value.is_integer())


def _is(kind: type) -> Callable[[object], bool]:
    return lambda value: isinstance(value, kind)


KINDS: Mapping[str, Callable[[object], bool]] = {
    "object": _is(dict),
    "array": _is(list),
    "string": _is(str),
    "boolean": _is(bool),
    "integer": _is_whole,
    "number": is_number,
}
"""What each type of JSON is. Source: JSON Schema 2020-12, validation, 6.1.1; numbers are finite here."""


def _same(value: object, other: object) -> bool:
    return value == other and isinstance(value, bool) == isinstance(other, bool)


def _distinct(values: list[Any]) -> bool:
    # As they are written: a list of people may be long, and comparing each with each takes its square.
    return len(set(map(repr, values))) == len(values)


RULES: Mapping[str, tuple[str | None, Test]] = {
    "type": (None, lambda value, kinds: any(KINDS[k](value) for k in ([kinds] if isinstance(kinds, str) else kinds))),
    "enum": (None, lambda value, members: any(_same(value, member) for member in members)),
    "const": (None, _same),
    "minimum": ("number", lambda value, bound: value >= bound),
    "maximum": ("number", lambda value, bound: value <= bound),
    "maxLength": ("string", lambda value, bound: len(value) <= bound),
    "minItems": ("array", lambda value, bound: len(value) >= bound),
    "maxItems": ("array", lambda value, bound: len(value) <= bound),
    "uniqueItems": ("array", lambda value, wanted: not wanted or _distinct(value)),
    "minProperties": ("object", lambda value, bound: len(value) >= bound),
    "required": ("object", lambda value, names: all(name in value for name in names)),
    "dependentRequired": (
        "object",
        lambda value, wanted: all(n in value for given, needed in wanted.items() if given in value for n in needed),
    ),
}
"""What each rule asks of a value, and the type that it holds for. Source: JSON Schema 2020-12, validation, 6."""

DESCENDING = frozenset({"properties", "items", "additionalProperties", "$ref", "if", "then", "format"})
"""Rules that `breaks` itself follows."""


def breaks(
    value: Any, schema: Mapping[str, Any], formats: Mapping[str, Callable[[Any], bool]], whole: Mapping[str, Any]
) -> Iterator[Break]:
    """Find every rule that a value breaks; `whole` is the schema with the definitions, `formats` tell a text."""
    return _breaks(value, schema, formats, whole, ())


def _breaks(
    value: Any,
    schema: Mapping[str, Any],
    formats: Mapping[str, Callable[[Any], bool]],
    whole: Mapping[str, Any],
    path: Path,
) -> Iterator[Break]:
    for rule, bound in schema.items():
        kept = True
        if rule in RULES:
            kind, test = RULES[rule]
            kept = (kind is not None and not KINDS[kind](value)) or test(value, bound)
        elif rule == "format":
            kept = bound not in formats or formats[bound](value)
        elif rule == "additionalProperties" and isinstance(value, dict):
            kept = bound is not False or all(name in schema.get("properties", {}) for name in value)
        else:
            for step, part, inner in _inside(rule, bound, value, schema, formats, whole):
                yield from _breaks(part, inner, formats, whole, (*path, *step))
        if not kept:
            yield Break(path, rule, bound, value, schema)


def _inside(
    rule: str,
    bound: Any,
    value: Any,
    schema: Mapping[str, Any],
    formats: Mapping[str, Callable[[Any], bool]],
    whole: Mapping[str, Any],
) -> Iterator[tuple[Path, Any, Mapping[str, Any]]]:
    """List the parts of a value that a rule speaks of, each with the way there and its own schema."""
    if rule == "$ref":
        yield (), value, reduce(lambda held, key: held[key], bound.split("/")[1:], whole)
    elif rule == "properties" and isinstance(value, dict):
        yield from (((name,), value[name], inner) for name, inner in bound.items() if name in value)
    elif rule == "items" and isinstance(value, list):
        yield from (((place,), part, bound) for place, part in enumerate(value))
    elif rule == "if" and not any(_breaks(value, bound, formats, whole, ())):
        yield (), value, schema.get("then", {})
