"""What the look of a sign says of when it was made: the table `aging.toml`, read and overridden.

Hardly a row has a published source, so windows are wide on purpose; each row says what it rests on.
`[ageing.rub.fresh] days = 7` and the like in logbook.toml replace single values of a row; a new row
needs `words`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.naming import key
from camsign.logbook.settings import Settings

ABSENT = "absent"
UNLOOKED = ""
# The times of year at which a sign is seen.
FALL, WINTER, SUMMER = "fall", "winter", "summer"
FILE = Path(__file__).with_name("aging.toml")
_ABSENT_WORDS = frozenset({"absent", "not there", "not there yet", "none yet", "missing"})

Row = Mapping[str, Any]


@cache
def table() -> dict[str, Any]:
    """Give aging.toml as it is: `spring`, `season`, `unlooked`, `look`."""
    return tomllib.loads(FILE.read_text(encoding="utf-8"))


def is_look(kind: str, said: str, settings: Settings) -> bool:
    """Whether a word says something of the look of a kind of sign."""
    try:
        state_of(kind, said, settings)
    except UsageError:
        return False
    return True


def state_of(kind: str, said: str, settings: Settings) -> str:
    """Give the row of the table that a word for a sign's look belongs to, or `absent`.

    Raises:
        UsageError: no row has that word.
    """
    word = key(said)
    if word in _ABSENT_WORDS:
        return ABSENT
    of_kind = rows(kind, settings)
    for state, row in of_kind.items():
        if word == state or word in row["words"]:
            return state
    known = ", ".join([*of_kind, "not there"])
    raise UsageError(f"{said.strip()!r} says nothing of the look of a {kind}", f"say {known}")


def rows(kind: str, settings: Settings) -> Mapping[str, Row]:
    """Give the looks of one kind of sign: the table's, with what logbook.toml says over them."""
    own = settings.aging.get(kind)
    usual: dict[str, Row] = table()["look"].get(kind, {})
    if not own:
        return usual
    return {state: _merged(usual.get(state), own.get(state)) for state in {**usual, **own}}


def row_of(kind: str, state: str, species: str | None, season: str, settings: Settings) -> Row:
    """Give what holds for a look (or `UNLOOKED`) at a time of year (FALL, WINTER, SUMMER), by the
    species of its tree; empty if the table has no such row."""
    row: Row = (
        rows(kind, settings).get(state, {})
        if state != UNLOOKED
        else table()["unlooked"].get(kind, {})
    )
    if season in row:
        named: Row = row[season]
        return named
    for tree, altered in row.get("species", {}).items():
        if species and tree in species:
            return {**row, **altered}
    return row


def _merged(usual: Row | None, own: Any) -> Row:
    if not isinstance(own, dict | None):
        raise UsageError(f"{own!r} under [ageing] in logbook.toml is no row", "see docs/sign.md")
    row = {"words": [], **(usual or {}), **(own or {})}
    for part in ("species", WINTER, SUMMER):
        if part in row:
            row[part] = {**(usual or {}).get(part, {}), **(own or {}).get(part, {})}
    return row
