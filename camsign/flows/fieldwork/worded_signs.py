"""A sign that was written in words, with what the columns of its row add to them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from camsign.errors import UsageError
from camsign.flows.fieldwork.parsed import ParsedPoint
from camsign.flows.fieldwork.signwords import SignDraft
from camsign.flows.fieldwork.table_cells import (
    CELLS,
    SignCells,
    day_of,
    plain_heading,
    sign_of,
)
from camsign.logbook.settings import Settings
from camsign.sign.aging import is_look
from camsign.sign.record import SaidSighting

# What columns may add to a sign that was written in words; which way is another matter.
_BESIDE_WORDS = frozenset({"kind", "species", "state", "note", "description"})


def words_of(point: ParsedPoint, cells: Mapping[str, str]) -> tuple[str, str]:
    """Give a point's name, and everything else that was written with it."""
    text = (cells.get("description", ""), cells.get("note", ""), point.text)
    return cells.get("name", point.name), " ".join(part for part in dict.fromkeys(text) if part)


def sign_from_draft(
    draft: SignDraft,
    point: ParsedPoint,
    ours: Mapping[str, str],
    day: date | None,
    settings: Settings,
) -> SignCells:
    """Give the cells of a sign that was written in shorthand; its row's columns fill what is left.

    Raises:
        UsageError: no day, or a column does not fit.
    """
    cells = {**ours, "kind": draft.kind}
    if draft.seen_on or point.day or point.when or "seen_on" not in cells:
        seen_on = draft.seen_on or day
    else:
        seen_on = day_of(cells["seen_on"])
    if seen_on is None:
        raise UsageError("it has no day on which it was seen", "give one with --on DAY")
    row = SignCells(draft.kind, None, None, SaidSighting(seen_on))
    if ours:
        row = _beside_words(cells, row, settings)
    seen = replace(
        row.seen,
        seen_on=seen_on,
        state=draft.state or row.seen.state,
        heading=draft.heading or plain_heading(draft.kind, point.cells),
        measures={**row.seen.measures, **draft.measures},
    )
    note = " ".join(" ".join(words_of(point, ours)).split())
    return replace(row, species=draft.species or row.species, note=note or row.note, seen=seen)


def _beside_words(cells: Mapping[str, str], plain: SignCells, settings: Settings) -> SignCells:
    """What a row's columns say beside its words; nothing where one of them means something else."""
    kept = {k: v for k, v in cells.items() if k in _BESIDE_WORDS or k not in CELLS}
    if not is_look(plain.kind, kept.get("state", ""), settings):
        kept.pop("state", None)  # a state of the Union, or of a battery
    try:
        return sign_of(kept, plain.seen.seen_on, settings)
    except UsageError:
        return plain
