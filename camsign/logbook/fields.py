"""How a kind of thing is declared: its fields, the words people see, and what they do with it.

`camsign.logbook.things` holds the table. The terminal's options, the pages' forms, the database's
tables, the check of a journal's lines and docs/things.md are all made from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.naming import meant
from camsign.logbook.settings import Settings
from camsign.units import parse_bearing, parse_day, parse_lat_lon, parse_length, parse_when

SHORT, LONG = 200, 2000
"""The most characters of a text, and of a note."""
_MOST_CORNERS = 5000


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a thing: kept, said by people, or both.

    Kept: `type` of its column in DuckDB, None where it is only said, such as a place, which is kept
    as two numbers; `holds`: what a value must be beyond that (`camsign.logbook.checked`).
    Said: `sort` is how (`read_one`), empty where nobody types it; `word` the name a page sends and
    `option` the terminal's, where it is not `name`; `ask` the question where it is missing;
    `choices` the words it may be; `most` characters.
    On a page, with a `label` only: that stands above it, `note` beside it and `hint` in it; `only`
    for this kind. In the terminal, with a `help` only: that and `metavar`.
    """

    name: str
    type: str | None = "VARCHAR"
    sort: str = ""
    label: str = ""
    help: str = ""
    word: str = ""
    option: str = ""
    ask: str = ""
    choices: tuple[str, ...] = ()
    most: int = SHORT
    metavar: str = ""
    hint: str = ""
    note: str = ""
    holds: str = ""
    only: str = ""

    @property
    def said(self) -> str:
        """The word by which the pages name it."""
        return self.word or self.name

    @property
    def flag(self) -> str:
        """The terminal's option."""
        return "--" + (self.option or self.said).replace("_", "-")


@dataclass(frozen=True, slots=True)
class Verb:
    """What people do with a thing. `takes`: the fields it takes; needed ones end in an `!`, and
    behind an `=` stands what counts where nothing is said.

    `title` and `button` are the page's words; `help` the terminal's, whose arguments `args` are.
    """

    name: str
    takes: str
    help: str = ""
    title: str = ""
    button: str = "Save"
    args: tuple[str, ...] = ()

    @property
    def fields(self) -> dict[str, bool]:
        """The names of the fields it takes, and whether it needs them."""
        return {one.partition("=")[0].rstrip("!"): "!" in one for one in self.takes.split()}

    @property
    def usual(self) -> dict[str, str]:
        """What counts where nothing is said, by field."""
        found = (one.partition("=") for one in self.takes.split())
        return {name: value for name, _, value in found if value}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of thing. `letter`: begins its ids. `about`: what it is, as docs say it."""

    thing: str
    letter: str
    fields: tuple[Field, ...]
    about: str = ""
    table: str = ""
    verbs: tuple[Verb, ...] = ()

    @property
    def columns(self) -> dict[str, str]:
        """DuckDB type by name of what is kept."""
        return {f.name: f.type for f in self.fields if f.type}

    @property
    def stands_in(self) -> str:
        """The table that shows it."""
        return self.table or f"{self.thing}s"

    def field(self, name: str) -> Field:
        """Give a field that people say, else one that is kept."""
        named = [f for f in self.fields if f.name == name]
        return next((f for f in named if f.sort), named[0])

    def verb(self, name: str) -> Verb:
        """Give what people do by its name. Raises UsageError if there is none."""
        found = next((v for v in self.verbs if v.name == name), None)
        if found is None:
            raise UsageError(f"nothing can be done with a {self.thing} by {name!r}")
        return found


def read(kind: Kind, verb: str, sent: Mapping[str, Any], settings: Settings) -> dict[str, Any]:
    """Turn what people sent, by word, into what a room's verb takes, by name; what is empty, and
    a box that is not ticked, is left out.

    Raises UsageError: something needed is missing, or does not fit.
    """
    values: dict[str, Any] = dict(kind.verb(verb).usual)
    for name, needed in kind.verb(verb).fields.items():
        one = kind.field(name)
        value = sent.get(one.said)
        if isinstance(value, str):
            if len(value) > one.most:
                raise UsageError(f"{one.said} has {len(value)} characters", f"{one.most} at most")
            value = value.strip()
        if value not in (None, "", [], ()) and (one.sort != "flag" or value is True):
            values[name] = read_one(one, value, settings)
        elif needed:
            raise UsageError(one.ask or f"what is its {one.label or one.said}?", "fill this in")
    return values


def read_one(one: Field, value: Any, settings: Settings) -> Any:
    """Turn what was said of one field into a value. Raises UsageError: it does not fit."""
    if one.sort == "flag":
        return True
    if one.sort in ("number", "whole"):
        return _number(one, value)
    if one.sort in ("path", "outline", "frames", "pins", "texts"):
        return _many(one, value)
    if not isinstance(value, str):
        raise UsageError(f"{one.said} is no text", "load the page again")
    if one.sort == "length":
        return parse_length(value, "yd" if settings.units == "imperial" else "m")
    parse = {
        "place": parse_lat_lon, "when": parse_when, "day": parse_day, "bearing": parse_bearing,
    }.get(one.sort)  # fmt: skip
    return parse(value) if parse else value


def choice_of(one: Field, said: str, what: str, also: Mapping[str, str] | None = None) -> str:
    """Give the one of a field's choices that a word names; `way-in` is `way in`.

    Raises UsageError: it names none.
    """
    word = " ".join(said.replace("-", " ").replace("_", " ").lower().split())
    word = (also or {}).get(word, word)
    if word not in one.choices:
        told = f"{said.strip()!r} is no {what}"
        raise UsageError(told, meant(word, one.choices, one.choices))
    return word


def _number(one: Field, value: Any) -> float | int:
    try:
        number = float(value)
        fits = abs(number) < 1e15 and not isinstance(value, bool)
    except (TypeError, ValueError):
        fits = False
    if not fits:
        raise UsageError(f"{one.said} {value!r} is no number", "write it like 4")
    return int(number) if one.sort == "whole" else number


def _many(one: Field, value: Any) -> Any:
    if one.sort == "texts" and isinstance(value, str):
        return [text.strip() for text in value.split(",") if text.strip()]
    if not isinstance(value, list):
        raise UsageError(f"{one.said} is no list", "load the page again")
    if one.sort == "path":
        return [_corner(corner) for corner in _few(value)]
    if one.sort == "outline":
        return [[_corner(corner) for corner in _few(ring)] for ring in _few(value)]
    if one.sort != "pins" and not all(isinstance(text, str) for text in value):
        raise UsageError(f"{one.said} is no list of texts", "load the page again")
    return value


def _few(value: Any) -> list[Any]:
    if not isinstance(value, list) or len(value) > _MOST_CORNERS:
        raise UsageError("these are no corners, or too many", f"{_MOST_CORNERS} are the most")
    return value


def _corner(one: Any) -> tuple[float, float]:
    """Give a corner (lat, lon) [deg] that was typed, or sent as two numbers."""
    if isinstance(one, str):
        return parse_lat_lon(one)
    numbers = isinstance(one, list) and len(one) == 2
    if not numbers or not all(isinstance(v, int | float) for v in one):
        raise UsageError("a corner is no place", "draw it again")
    return float(one[0]), float(one[1])
