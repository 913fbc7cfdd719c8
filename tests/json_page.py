"""Makes docs/json.md: every key of every command's JSON, from the types the commands give."""

from __future__ import annotations

import dataclasses
import inspect
import re
import types
import typing
from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from datetime import date, datetime
from pathlib import Path
from typing import Any

from json_words import MEANS

from camsign.answers.result import Answer
from camsign.cli.typed import resolved

HEAD = """# Every JSON key

Made from the commands' own types by `poe reference`; a test fails when a key changes and this
page does not.

`--json` prints one object. `schema` is its version, 1 now: it rises when a key goes or means
another thing; new keys come without. A list lies under `rows`. Numbers are SI, bearings are degrees
clockwise from true north, places WGS 84. Times are ISO 8601 with their offset, days `YYYY-MM-DD`.
What is not known is `null`. An answer also says itself in `said`, and carries its `watch`, `method`
and `why`; where too few nights were covered, `said` says "not enough nights covered".

`--csv` prints the same rows, one a line: a number with an interval as `x`, `x_low`, `x_high`, lists
joined by `; `, what has names of its own as JSON. What an answer says goes to stderr.

| command | its JSON |
|---|---|
"""
_UNITS = (
    (r"(^|_)(lat|lon)$", "° WGS 84"), (r"_m$", "m"), (r"_deg$", "°"), (r"_s$|^seconds$", "s"),
    (r"_km(_|$)|^km_", "km"), (r"hectares$", "ha"), (r"minutes", "min"), (r"hours_until", "h"),
    (r"per_100_nights", "per 100 nights"), (r"per_10_days", "per 10 days"), (r"per_ha", "per ha"),
    (r"^days_between", "days"),
)  # fmt: skip
_PLAIN = {
    str: "text", int: "whole number", float: "number", bool: "true or false", Path: "text",
    datetime: "time", date: "day", Any: "any",
}  # fmt: skip


class Page:
    """Collects the types that commands give."""

    def __init__(self) -> None:
        self.types: dict[str, type] = {}

    def shape(self, kind: Any) -> str:
        """Write a type as a reader of JSON sees it, null left out."""
        origin, args = typing.get_origin(kind), typing.get_args(kind)
        if origin in (types.UnionType, typing.Union):
            return " or ".join(self.shape(a) for a in args if a is not type(None))
        if origin is typing.Literal:
            return " or ".join(f"`{a}`" for a in args)
        if isinstance(origin, type) and issubclass(origin, Mapping):
            return f"object of {self.shape(args[1])} by name"
        if isinstance(origin, type) and issubclass(origin, Sequence | AbstractSet):
            return f"list of {' and '.join(dict.fromkeys(map(self.shape, _without_dots(args))))}"
        if dataclasses.is_dataclass(kind):
            assert isinstance(kind, type)
            name = self._named(kind)
            return f"[{name}](#{name.lower().replace(' ', '-')})"
        return _PLAIN[kind]

    def _named(self, kind: type) -> str:
        """Name a type; two of one name are told apart by their modules."""
        name = kind.__name__
        if self.types.setdefault(name, kind) is not kind:
            name = f"{name} of {kind.__module__.rpartition('.')[2]}"
            self.types[name] = kind
        return name

    def keys(self, kind: type) -> Iterator[tuple[str, str, str, str, str]]:
        """Give key, type, unit, when it is null, and meaning of each key of a type."""
        if hasattr(kind, "to_json") and not issubclass(kind, Answer):
            given = typing.get_type_hints(kind.to_json)["return"]
            yield "rows", self.shape(given), "", "", MEANS[f"{kind.__name__}.rows"]
            return
        named = [f.name for f in dataclasses.fields(kind)]
        if issubclass(kind, Answer) and "said" not in named:
            yield "said", "text", "", "", MEANS["said"]
        if "table" in named and issubclass(kind, Answer):
            yield "rows", f"list of {self.shape(kind.ROW)}", "", "", MEANS["rows"]
        for f in dataclasses.fields(kind):
            if f.name == "table" or f.name.startswith("_") or f.metadata.get("inner"):
                continue
            one = resolved(f.type, _home(kind, f.name))
            means, _, why = _meaning(kind, f.name).partition("; null: ")
            null = why or "not known" if type(None) in typing.get_args(one) else ""
            null = "left out" if f.metadata.get("spare") else null
            yield f.name, self.shape(one), _unit(f.name), null, means


def _without_dots(args: tuple[Any, ...]) -> list[Any]:
    return [a for a in args if a is not Ellipsis]


def _home(kind: type, name: str) -> str:
    """The module whose annotation a field has: that of the class which declares it."""
    return next(
        c.__module__ for c in reversed(kind.__mro__) if name in vars(c).get("__annotations__", {})
    )


def _unit(name: str) -> str:
    return next((unit for pattern, unit in _UNITS if re.search(pattern, name)), "")


def _meaning(kind: type, name: str) -> str:
    """What the type's own docstring says of a key, or the words that stand for its name."""
    if f"`{name}`" in (inspect.getdoc(kind) or ""):
        return "above"
    return MEANS.get(f"{kind.__name__}.{name}") or MEANS[name]


def page(commands: Iterator[tuple[str, Any, Any]]) -> str:
    """Give the text of docs/json.md."""
    made, lines = Page(), []
    for words, command, _ in commands:
        if hasattr(command.callback, "made"):
            lines.append(f"| `{words}` | {made.shape(command.callback.made.gives)} |")
    done: set[str] = set()
    sections = []
    while left := [name for name in made.types if name not in done]:
        done.add(left[0])
        kind = made.types[left[0]]
        sections += ["", f"## {left[0]}", "", " ".join((inspect.getdoc(kind) or "").split()), ""]
        sections += ["| key | type | unit | null | meaning |", "|---|---|---|---|---|"]
        sections += [f"| `{row[0]}` | " + " | ".join(row[1:]) + " |" for row in made.keys(kind)]
    return HEAD + "\n".join([*lines, *sections]) + "\n"
