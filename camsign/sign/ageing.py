"""What the look of a sign says of when it was made: a table that a person may override.

Every row is common practice, no source; windows are wide on purpose. Wounds on trees do close (a
3/8 to 11/16 inch wide one in a season: D. Neely, Arboriculture & Urban Forestry 5 (1979) 135-140),
but no validated rule from look to days was found. `[ageing.rub.fresh] days = 7` and the like in
logbook.toml replace single values of a row; a new row needs `words`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from camsign.errors import UsageError
from camsign.logbook.naming import key

if TYPE_CHECKING:
    from camsign.logbook.settings import Settings

ABSENT = "absent"
_ABSENT_WORDS = frozenset({"absent", "not there", "not there yet", "none yet", "missing"})

# from, to: month-days in the latest rubbing season begun by the day seen (default its ends).
# days, days_at_least: made at most, at least so many days before it was seen.
# seasons_back: made in one of so many seasons before that one instead.
AGEING: dict[str, dict[str, dict[str, Any]]] = {
    "rub": {
        "fresh": {"words": ["fresh", "green", "wet", "sappy"], "days": 14},
        "bright": {"words": ["bright", "yellow", "gold", "golden"], "days_at_least": 3},
        "healing": {
            "words": ["healing", "early", "callus starting"],
            "from": "09-01",
            "to": "09-25",
            # Aspen closes its wounds sooner, so a later rub shows patches as well.
            "species": {"aspen": {"to": "10-15"}, "poplar": {"to": "10-15"}},
        },
        "dry": {"words": ["dry", "clean", "clean dry"], "from": "10-10", "to": "12-20"},
        "old": {
            "words": ["old", "grey", "gray", "weathered", "callused", "healed"],
            "seasons_back": 4,
        },
    },
    "scrape": {
        "fresh": {"words": ["fresh", "active", "wet", "open", "tended"], "days": 7},
        "dry": {"words": ["dry", "worked", "leaves in it"], "days_at_least": 3},
        "old": {"words": ["old", "abandoned", "covered", "inactive"], "days_at_least": 14},
    },
    "droppings": {
        "fresh": {"words": ["fresh", "wet", "soft", "shiny"], "days": 2},
        "dry": {"words": ["dry", "dull", "old"], "days_at_least": 2},
    },
    "track": {
        "fresh": {"words": ["fresh", "sharp", "crisp"], "days": 2},
        "old": {"words": ["old", "melted", "crumbled"], "days_at_least": 1},
    },
    "bed": {
        "fresh": {"words": ["fresh", "warm"], "days": 2},
        "old": {"words": ["old"], "days_at_least": 2},
    },
}


def state_of(kind: str, said: str, settings: Settings) -> str:
    """Give the row of the table that a word for a sign's look belongs to, or `absent`.

    Raises:
        UsageError: no row has that word.
    """
    word = key(said)
    if word in _ABSENT_WORDS:
        return ABSENT
    table = rows(kind, settings)
    for state, row in table.items():
        if word == state or word in row["words"]:
            return state
    known = ", ".join([*table, ABSENT])
    raise UsageError(f"{said.strip()!r} says nothing of the look of a {kind}", f"say {known}")


def rows(kind: str, settings: Settings) -> Mapping[str, dict[str, Any]]:
    """Give the table of one kind of sign: the defaults, with what logbook.toml says over them."""
    own = settings.tables.get("ageing", {}).get(kind)
    usual = AGEING.get(kind, {})
    if not own:
        return usual
    return {state: _merged(usual.get(state), own.get(state)) for state in {**usual, **own}}


def row_of(
    kind: str, state: str, species: str | None, settings: Settings
) -> Mapping[str, Any] | None:
    """Give the row for a look, with what its tree alters; None if the table has none."""
    row = rows(kind, settings).get(state)
    if row is None or not species or not row.get("species"):
        return row
    for tree, altered in row["species"].items():
        if tree in species:
            return {**row, **altered}
    return row


def _merged(usual: dict[str, Any] | None, own: Any) -> dict[str, Any]:
    if not isinstance(own, dict | None):
        raise UsageError(f"{own!r} under [ageing] in logbook.toml is no row", "see docs/sign.md")
    row = {"words": [], **(usual or {}), **(own or {})}
    row["species"] = {**(usual or {}).get("species", {}), **(own or {}).get("species", {})}
    return row
