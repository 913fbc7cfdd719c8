"""Bucks from a table: name, traits, age, age_low, age_high, basis, season, ended.

All rows are one act. A row that cannot be taken costs one line and leaves the others.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from camsign.errors import InputRefused, UsageError
from camsign.formats.table import read_table
from camsign.logbook import naming
from camsign.logbook.edits import SetFields
from camsign.logbook.session import Session
from camsign.tags.bucks import (
    BuckRow,
    checked_details,
    checked_name,
    find_buck,
    stored_details,
)
from camsign.units import counted

_TEXTS = {"traits": "traits", "basis": "age_basis", "age_basis": "age_basis", "ended": "ended"}
_NUMBERS = ("age", "age_low", "age_high")
_SEASONS = ("season", "age_year")


@dataclass(slots=True)
class BucksTaken:
    """How many bucks of a table were new, changed or known, and a line for each refused row."""

    new: int = 0
    changed: int = 0
    known: int = 0
    refused: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class NamedBuck(BuckRow):
    """A buck as `buck import` takes him, his name also under `name`."""

    name: str = ""


def named(row: BuckRow) -> NamedBuck:
    """Give a buck as a table to import names him."""
    return NamedBuck(**{f.name: getattr(row, f.name) for f in fields(row)}, name=row.buck)


def import_bucks(session: Session, path: Path) -> BucksTaken:
    """Take in bucks from a CSV file; who is known by his name is set, the others are added.

    Raises:
        InputRefused: no table, or no column `name` (or `buck`).
        CamsignError: the journal cannot be written.
    """
    table = read_table(path)
    columns = {name.lower() for name in table.columns}
    if not {"name", "buck"} & columns:
        told = f"{path} has the columns {', '.join(table.columns)}"
        raise InputRefused(told, "it needs name; also traits, age, basis, season, ended")
    taken = BucksTaken(refused=list(table.troubles))
    edits: dict[str, SetFields] = {}
    for row in table.rows:
        cells = {name.lower(): text for name, text in row.cells.items()}
        try:
            _take(session, cells, taken, edits)
        except UsageError as e:
            taken.refused.append(f"line {row.line}: {e}")
    if edits:
        session.say(f"loaded {counted(len(edits), 'buck')} from {path.name}", list(edits.values()))
    return taken


def _take(
    session: Session, cells: dict[str, str], taken: BucksTaken, edits: dict[str, SetFields]
) -> None:
    name = checked_name(cells.get("name") or cells.get("buck", ""))
    said = _details(cells)
    try:
        known = find_buck(session, name)
    except UsageError:
        known = None
    # From the name, so that two friends who take in one table mean one buck.
    buck = known.buck_id if known else naming.content_id("b", naming.key(name))
    if buck in edits:
        raise UsageError(f"{name!r} stands on two lines", "give each buck one line")
    if known:
        old = stored_details(session, buck)
        said = {k: v for k, v in said.items() if old.get(k) != v}
        if not said:
            taken.known += 1
            return
        if set(said) & {"age", "age_low", "age_high", "age_year", "age_basis"}:
            said = {k: v for k, v in old.items() if k.startswith("age") and v is not None} | said
    fields = checked_details(session, said, known)
    edits[buck] = SetFields("buck", buck, fields if known else {"name": name} | fields)
    taken.changed += known is not None
    taken.new += known is None


def _details(cells: dict[str, str]) -> dict[str, Any]:
    said: dict[str, Any] = {to: cells[own] for own, to in _TEXTS.items() if cells.get(own)}
    said |= {own: _number(own, cells[own]) for own in _NUMBERS if cells.get(own)}
    season = next((cells[own] for own in _SEASONS if cells.get(own)), None)
    if season:
        said["age_year"] = int(_number("season", season))
    return said


def _number(name: str, text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise UsageError(f"its {name} {text!r} is no number", "write it like 4.5") from None
