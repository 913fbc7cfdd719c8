"""Sign of files as items: which is new here, changed or known, and which may be known twice."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from camsign.flows.fieldwork.duplicates import Duplicate, find_duplicates
from camsign.flows.fieldwork.new_or_known import Item
from camsign.flows.fieldwork.readback import read_as, way_of
from camsign.flows.fieldwork.sign_tables import Ready, sign_edits
from camsign.logbook.edits import Edit, SetFields
from camsign.logbook.session import Session


def sign_items(
    session: Session, signs: list[tuple[str, Ready]]
) -> tuple[list[Item], list[Duplicate]]:
    """Compare all sign of files at once with what the logbook holds; give what may be doubled."""
    units = session.settings.units
    ready = [r for _, r in signs]
    edits, _ = sign_edits(session, ready)
    said: dict[str, list[Edit]] = {}
    for sign_edit, sighting_edit in zip(edits[::2], edits[1::2], strict=True):
        if isinstance(sighting_edit, SetFields):
            said[sighting_edit.id] = [sign_edit, sighting_edit]
    old = _standing_sightings(session, [r.sighting for r in ready])
    seen: Counter[str] = Counter()
    items: list[Item] = []
    for file, r in signs:
        seen[r.sighting] += 1
        new = said.get(r.sighting, []) if seen[r.sighting] == 1 else []
        state = "known" if not new else "changed" if r.sighting in old else "new"
        items.append(
            Item("sign", f"{file}: {r.where}", r.of_sign.get("note") or "", r.kind, r.lat, r.lon,
                 state, r.seen_on, read_as(r, units), tuple(new), r.row, way_of(r))
        )  # fmt: skip
    fresh = [r for (_, r), item in zip(signs, items, strict=True) if item.state == "new"]
    return items, find_duplicates(session, fresh)


def _standing_sightings(session: Session, ids: list[str]) -> set[str]:
    rows = session.con.execute(
        "SELECT sighting FROM sightings WHERE sighting IN (SELECT unnest(?::VARCHAR[]))", [ids]
    ).fetchall()
    return {row[0] for row in rows}


def joined(item: Item, other: str) -> list[Edit]:
    """Say a sign as one more look at another, so that nothing of it is lost and it is known."""
    return [
        replace(
            e, fields={**e.fields, **({"gone": True} if e.thing == "sign" else {"sign": other})}
        )
        for e in item.edits
        if isinstance(e, SetFields)
    ]


def sign_of(item: Item) -> str | None:
    """Give the id of the sign that an item says, None if it says none."""
    return next((e.id for e in item.edits if isinstance(e, SetFields) and e.thing == "sign"), None)
