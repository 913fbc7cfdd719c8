"""A handheld's or phone's file as a page shows it: sorted by what is in it, then taken."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from camsign.errors import UsageError
from camsign.flows.fieldwork.handheld import sort_files, take
from camsign.flows.fieldwork.new_or_known import Item
from camsign.flows.fieldwork.shorthand import CHOICES, NOTHING
from camsign.flows.fieldwork.sign_tables import Choices
from camsign.logbook.session import Session
from camsign.logbook.things import AREA_KINDS, PLACE_KINDS, SIGN_KINDS
from camsign.sign.kinds import TRAVELED

GROUPS = {
    "cameras": "camera",
    "places": "place",
    "areas": "area",
    "sign": "sign",
    "walks": "walked path",
    "sits": "sit",
    "not_understood": "note",
}
_SHOWN = 200
_SAYABLE = frozenset((*CHOICES, NOTHING))
_MOST_CHOSEN = 100_000
_KINDS = {
    "sign": SIGN_KINDS,
    "places": PLACE_KINDS,
    "areas": AREA_KINDS,
    "going": sorted(TRAVELED),
}


def choices_of(sent: Mapping[str, Any]) -> Choices:
    """Give what a person chose on the page: rows turned around, and what rows are.

    Raises:
        UsageError: what was sent is something else.
    """
    turned, kinds = sent.get("turned", []), sent.get("kinds", {})
    fits = isinstance(turned, list) and isinstance(kinds, dict)
    if not fits or len(turned) + len(kinds) > _MOST_CHOSEN:
        raise UsageError("the rows are not understood", "load the page again")
    if not all(isinstance(row, int) for row in turned):
        raise UsageError("the rows are not understood", "load the page again")
    said = {int(row): kind for row, kind in kinds.items() if row.isdecimal() and kind in _SAYABLE}
    if len(said) < len(kinds):
        raise UsageError("there is no such kind", f"choose {', '.join(sorted(_SAYABLE))}")
    return Choices(
        turned=frozenset(turned),
        turn_all=sent.get("turn_all") is True,
        kinds=said,
        guesses=sent.get("guesses") is True,
    )


def sorted_file(
    session: Session,
    path: Path,
    choices: Choices = Choices(),  # noqa: B008
) -> dict[str, Any]:
    """Read a file and give what is in it, group by group; nothing is noted yet.

    Raises:
        InputRefused: nothing in it can be read.
    """
    found = sort_files(session, [path], choices)
    return {
        "file": path.name,
        "groups": {name: _group(getattr(found, name)) for name in GROUPS},
        "kinds": _KINDS,
        "left_out": found.refused[:_SHOWN],
        "notes": found.notes[:_SHOWN],
        "twins": len(found.twins),
    }


def take_file(
    session: Session,
    path: Path,
    as_one: bool,
    choices: Choices = Choices(),  # noqa: B008
) -> tuple[str, list[str]]:
    """Take in what a file holds; give how many of each, in words, and a line for each thing left
    out. `as_one`: leave out sign that is known from another device.

    Raises:
        InputRefused: nothing in it can be read.
    """
    found = sort_files(session, [path], choices)
    done = take(session, found, as_one)
    asked = [f"{i.where}: {i.why}" for i in found.not_understood if not i.edits]
    return done.in_words(), [*found.refused, *asked][:_SHOWN]


def _group(items: list[Item]) -> dict[str, Any]:
    rows = [
        {
            "row": i.row,
            "what": i.what,
            "name": i.name,
            "kind": i.kind,
            "way": i.way,
            "guess": i.guess,
            "at": f"{i.lat:.5f}, {i.lon:.5f}",
            "day": i.day.isoformat() if i.day else "",
            "state": i.state,
            "why": i.why,
        }
        for i in items[:_SHOWN]
    ]
    return {"rows": rows, "all": len(items), "new": sum(bool(i.edits) for i in items)}
