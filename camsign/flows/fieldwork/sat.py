"""A sit as a waypoint says it, in words or in the cells that camsign itself wrote.

In words: `sat pine 3-dark saw 8pt 40yd spooked doe wind SW 6`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from camsign.errors import UsageError
from camsign.flows.fieldwork.handed import ROUNDED
from camsign.flows.fieldwork.new_or_known import Item
from camsign.flows.fieldwork.parsed import ParsedPoint
from camsign.flows.fieldwork.sign_tables import place_of_point
from camsign.flows.fieldwork.table_cells import ours, words_of
from camsign.formats.text import plain_number
from camsign.logbook import named
from camsign.logbook.checked import check_edit
from camsign.logbook.edits import SetFields, to_json
from camsign.logbook.moments import as_text
from camsign.logbook.named import KnownBucks, known_bucks
from camsign.logbook.naming import content_id
from camsign.logbook.outings import ENCOUNTER
from camsign.logbook.session import Session
from camsign.logbook.things import PLACE
from camsign.places.shapes import points_of
from camsign.sits.journal import draft_of, sits, stand_id
from camsign.zones import zone

_SAT = re.compile(r"\s*sat\b(?:\s+at)?\s+(.+)", re.IGNORECASE | re.DOTALL)
_PARTS = re.compile(r"\b(saw|spooked|wind|note)\b:?", re.IGNORECASE)
# The hours are the last words of the head: `3-dark`, `3 to dark`, `3pm - 5:15pm`.
_HOURS = re.compile(r"(?P<stand>.+?)\s+(?P<hours>\S+\s*(?:-|–|\bto\b)\s*\S+)\s*$", re.DOTALL)
_BAD = "ask for the file again"
_MET = {f.name for f in ENCOUNTER.fields if f.type and f.name not in ("sit", "gone")}
_HOW = "write it like sat pine 3-dark saw 8pt 40yd"


def sat_words(name: str, text: str = "") -> dict[str, str] | None:
    """The words of a sit by what they say: stand, hours, saw, spooked, wind, note; None if none.

    Raises:
        UsageError: it is one, but without a stand or hours.
    """
    found = _SAT.match(f"{name} {text}")
    if found is None:
        return None
    head, *rest = _PARTS.split(found[1])
    said = {word.lower(): part.strip(" .;,") for word, part in zip(rest[::2], rest[1::2],
                                                                  strict=True)}  # fmt: skip
    hours = _HOURS.match(head.strip(" .;,"))
    if hours is None:
        raise UsageError("a sit needs its stand and its hours", _HOW)
    return {"stand": hours["stand"], "hours": hours["hours"], **said}


def read_sit(
    session: Session, point: ParsedPoint, on: date | None, places: Sequence[Item] = ()
) -> Item | None:
    """Read a point as the sit that its cells or words say; None if they say none.

    `on` is the day where the file says none, `places` are what the same files bring.

    Raises:
        UsageError: it is one that cannot be taken; see `sit_item`, `sit_from_cells`.
    """
    cells = ours(point.cells)
    is_ours = point.made.startswith("t-")
    if point.rounded and (is_ours or cells.get("kind") == "sit"):
        raise UsageError(ROUNDED)
    if is_ours and point.untouched and is_known(session, point.made):
        return Item("sit", point.where, point.name, "sit", *place_of_point(point, cells), "known")
    if cells.get("kind") == "sit" and "start" in cells:
        brought = {e.id for i in places for e in i.edits if isinstance(e, SetFields)}
        return sit_from_cells(session, point, cells, place_of_point(point, cells), brought)
    if cells and not is_ours:
        return None
    said = sat_words(*words_of(point, {} if is_ours else cells))
    return sit_item(session, point, said, on) if said else None


def sit_item(
    session: Session, point: ParsedPoint, said: Mapping[str, str], on: date | None
) -> Item:
    """Read a sit of a file; one of the same stand and hours is known.

    One that camsign wrote is known by its id, and corrected where its words were changed.

    Raises:
        UsageError: there is no such stand or no day, or its words are not understood.
    """
    day = _day(session, point) or on
    if day is None:
        raise UsageError("it does not say on which day", "give the day with --on DAY")
    stand = stand_id(session, said["stand"])
    made = content_id("t", stand, day.isoformat(), said["hours"].casefold())
    made = point.made or made
    state = "known" if is_known(session, made) else "new"
    now = None
    if state == "known" and point.made and not point.untouched:
        now = next((row for row in sits(session) if row.sit == made), None)
        state = "changed" if now else state
    words = {n: v for n, v in said.items() if n != "stand"}
    draft = draft_of(session, now, stand, day, **words, made=made)
    shape = named.fields_of(session, PLACE, stand)["shape"]
    lat, lon = points_of(shape)[0]
    name = named.names(session, PLACE)[stand]
    why = "; ".join(f"{n} {v}" for n, v in said.items() if n in ("hours", "saw", "spooked"))
    return Item("sit", point.where, name, "sit", lat, lon, state, day, why,
                () if state == "known" else draft.edits)  # fmt: skip


def _day(session: Session, point: ParsedPoint) -> date | None:
    if point.when is None:
        return point.day
    return point.when.astimezone(zone(session.settings.tz)).date()


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
    """Read a sit from the cells of a point; `stands` are ids of places that the same files bring.

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
            check_edit(to_json(edit))
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
