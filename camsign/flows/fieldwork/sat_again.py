"""A sit that camsign itself wrote into a file, read from its cells: the same sit under its id."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from camsign.errors import UsageError
from camsign.flows.fieldwork.new_or_known import Item
from camsign.flows.fieldwork.parsed import ParsedPoint
from camsign.formats.text import plain_number
from camsign.logbook.checked import check_edit
from camsign.logbook.edits import SetFields
from camsign.logbook.moments import as_text
from camsign.logbook.outings import ENCOUNTER
from camsign.logbook.session import Session
from camsign.logbook.whois import KnownBucks, known_bucks
from camsign.sits.journal import stand_id
from camsign.zones import zone

_BAD = "ask for the file again"
_MET = {f.name for f in ENCOUNTER.fields if f.type and f.name not in ("sit", "gone")}


def is_known(session: Session, sit: str) -> bool:
    """Whether a sit is in the journal, a removed one too: it does not come back with a file."""
    row = session.con.execute("SELECT count(*) FROM sits WHERE sit = ?", [sit]).fetchone()
    return bool(row and row[0])


def sit_from_cells(
    session: Session,
    point: ParsedPoint,
    cells: Mapping[str, str],
    at: tuple[float, float],
    stands: Collection[str],
) -> Item:
    """Read a sit from its cells.

    Args:
        session: the open logbook.
        point: as the file has it.
        cells: what it says of the sit.
        at: where its stand lies [deg].
        stands: ids of places that the same files bring.

    Raises:
        UsageError: its stand is unknown, or a cell cannot be read.
    """
    made = point.made or cells["sit"]
    stand = cells.get("stand", "")
    if stand not in stands:
        stand = _stand(session, stand, cells.get("stand_name", ""))
    start, stop = _instant(cells, "start"), _instant(cells, "stop")
    if stop <= start:
        raise UsageError("the sit ends before it begins", _BAD)
    fields: dict[str, Any] = {"stand": stand, "start": as_text(start), "stop": as_text(stop)}
    fields |= {n: plain_number(cells[n]) for n in ("wind_deg", "wind_ms") if n in cells}
    fields |= {"note": cells["note"]} if "note" in cells else {}
    edits = (SetFields("sit", made, fields), *_met(session, made, cells.get("met", "[]")))
    for edit in edits:
        try:
            check_edit(edit.to_json())
        except ValueError as e:
            raise UsageError(f"what it says of the sit cannot be ({e})", _BAD) from None
    state = "changed" if is_known(session, made) else "new"
    day = start.astimezone(zone(session.settings.tz)).date()
    name = cells.get("stand_name") or stand
    return Item("sit", point.where, name, "sit", *at, state, day, edits=edits)


def _stand(session: Session, stand: str, name: str) -> str:
    try:
        return stand_id(session, stand)
    except UsageError:
        return stand_id(session, name or stand)


def _instant(cells: Mapping[str, str], name: str) -> datetime:
    try:
        when = datetime.fromisoformat(cells.get(name, ""))
    except ValueError:
        when = None
    if when is None or when.tzinfo is None:
        raise UsageError(f"the {name} of the sit is {cells.get(name, '')!r}", _BAD)
    return when


def _met(session: Session, sit: str, text: str) -> list[SetFields]:
    """Everybody met, each under his id; whom this sit had and the file has not is gone."""
    try:
        rows = json.loads(text)
        met = {str(one["encounter"]): dict(one) for one in rows}
    except (ValueError, TypeError, KeyError):
        raise UsageError("who was met on the sit cannot be read", _BAD) from None
    had = session.con.execute(
        "SELECT encounter FROM encounters WHERE sit = ? AND gone IS NOT TRUE", [sit]
    ).fetchall()
    gone = [SetFields("encounter", e, {"gone": True}) for (e,) in had if e not in met]
    bucks = known_bucks(session)
    return gone + [SetFields("encounter", e, _one(sit, one, bucks)) for e, one in met.items()]


def _one(sit: str, one: dict[str, Any], bucks: KnownBucks) -> dict[str, Any]:
    """What is said of one: a buck whom nobody knows here by id or name is named in the note."""
    said = {name: value for name, value in one.items() if name in _MET and value is not None}
    buck, name = said.get("buck"), one.get("buck_name")
    if buck is not None and buck not in bucks.now:
        by_name = {n.casefold(): id_ for id_, n in bucks.names.items()}
        said["buck"] = by_name.get(str(name).casefold())
        if said["buck"] is None and name:
            said["note"] = "; ".join(filter(None, (str(name), said.get("note"))))
    return {"sit": sit, **said}
