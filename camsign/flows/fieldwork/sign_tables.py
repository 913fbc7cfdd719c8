"""Sign from tables and waypoints into the log: the same file again adds nothing.

A sign's id comes from what it is in its file, so that two friends who take in one file agree. What
it said is kept as a hash: a row that says what it said before is known, even if it was corrected or
removed here since; one that says something else updates the sign.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any

from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.flows.fieldwork.handed import ROUNDED, met_again
from camsign.flows.fieldwork.kindwords import Asked
from camsign.flows.fieldwork.parsed import ParsedPoint, read_field_file
from camsign.flows.fieldwork.shorthand import Shorthand
from camsign.flows.fieldwork.signwords import SignDraft
from camsign.flows.fieldwork.table_cells import (
    SignCells,
    not_understood,
    ours,
    place_of,
    sign_from_draft,
    sign_of,
    words_of,
)
from camsign.flows.fieldwork.waywords import turned
from camsign.formats.collector import collector_paused
from camsign.geo import check_lat_lon
from camsign.logbook.edits import Edit, SetFields
from camsign.logbook.naming import content_id
from camsign.logbook.session import Session
from camsign.places.nearby import Nearby
from camsign.sign.record import SaidSighting, checked_sign, sighting_fields, tidy
from camsign.units import counted
from camsign.zones import zone

# What a file says of a sighting, beside its sign and day.
_SAID = ("state", "travel_deg", "taken_as", "made_from", "made_to", "measures", "note")


@dataclass(frozen=True, slots=True)
class SignTaken:
    """What an import of sign did; `refused` and `notes` are lines for people."""

    new: int
    changed: int
    known: int
    refused: list[str]
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Ready:
    """A sign ready to be said: ids, where it stands in its file, fields of sign and sighting.

    `row` numbers it among all rows; `raw` is what its file says, `chosen` whether a person said
    otherwise.
    """

    where: str
    sign: str
    sighting: str
    kind: str
    lat: float
    lon: float
    seen_on: date
    of_sign: Mapping[str, Any]
    of_sighting: Mapping[str, Any]
    row: int = 0
    raw: str = ""
    chosen: bool = False


@dataclass(frozen=True, slots=True)
class Choices:
    """How a file is to be read.

    `on`: the day for rows without one; `anywhere`: far away too; `photo_direction`: a photo of a
    rub was taken square on, so that its camera looked the way he went; `photo_kind`: what a photo
    shows whose words do not say it. `turned`: rows whose travel is the other way round, or all of
    them with `turn_all`, but those in `turned`; `kinds`: what a person said that a row is;
    `guesses`: rows that may be something are it.
    """

    on: date | None = None
    anywhere: bool = False
    photo_direction: bool = False
    photo_kind: str | None = None
    turned: frozenset[int] = frozenset()
    turn_all: bool = False
    kinds: Mapping[int, str] = field(default_factory=dict)
    guesses: bool = False


@collector_paused()
def import_sign(
    session: Session,
    path: Path,
    columns: Mapping[str, str] | None = None,
    on: date | None = None,
    anywhere: bool = False,
) -> SignTaken:
    """Take in sign from a CSV table or GPX waypoints.

    Args:
        session: the open logbook.
        path: the file.
        columns: what a table's own column names mean.
        on: the day of sightings that have none.
        anywhere: take places too that lie more than 1,000 km from everything known.

    Raises:
        InputRefused: no such file, or nothing in it could be taken.
    """
    file = met_again(read_field_file(path, columns))
    refused, notes, ready = list(file.troubles), [], []
    if unknown := not_understood(file.points[0].cells if file.points else ()):
        notes.append(f"columns that are not understood: {', '.join(unknown)}")
    reader = SignReader(session, file.name, Choices(on, anywhere))
    for point in file.points:
        try:
            ready.append(reader.read(point))
        except CamsignError as e:
            refused.append(f"{point.where} left out: {e}")
    notes += reader.notes
    if not ready:
        told = f"{path} holds no sign that can be taken"
        raise InputRefused("; ".join([told, *refused[:1]]))
    found = sign_edits(session, ready)
    edits = [edit for _, both in found for edit in both]
    counts = Counter(state for state, _ in found)
    if edits:
        many = counted(counts["new"] + counts["changed"], "piece")
        session.say(f"loaded {many} of sign from {file.name}", edits)
    return SignTaken(counts["new"], counts["changed"], counts["known"], refused, notes)


def sign_edits(session: Session, ready: list[Ready]) -> list[tuple[str, tuple[Edit, ...]]]:
    """Give of each sign whether it is new, changed or known, and what has to be said of it."""
    stood = _standing(session, [r.sign for r in ready], [r.sighting for r in ready])
    found: list[tuple[str, tuple[Edit, ...]]] = []
    for r in ready:
        old_sign, old_sighting = stood.get(r.sign), stood.get(r.sighting, {})
        if old_sign and old_sighting and _says_the_same(r, old_sign, old_sighting):
            found.append(("known", ()))
            continue
        # What the file no longer says of the sighting is taken back.
        gone = (n for n in _SAID if n not in r.of_sighting)
        said = {n: None for n in gone if old_sighting.get(n) is not None} | {**r.of_sighting}
        if old_sighting.get("sign"):  # a person may have said that its sign is another one
            said["sign"] = old_sighting["sign"]
        edits = SetFields("sign", r.sign, r.of_sign), SetFields("sighting", r.sighting, said)
        found.append(("changed" if old_sighting else "new", edits))
    return found


def local_day(point: ParsedPoint, tz: str) -> date | None:
    """Give the local day of a point's own time."""
    return point.day or (point.when.astimezone(zone(tz)).date() if point.when else None)


class SignReader:
    """Reads the points of one file that are sign; `notes` gathers lines for people.

    `offered` counts photos of rubs whose direction was not taken as his travel.
    """

    def __init__(self, session: Session, file: str, choices: Choices) -> None:
        self.session = session
        self.file = file
        self.choices = choices
        self.nearby = Nearby.of(session, choices.anywhere)
        self.shorthand = Shorthand(session.settings)
        self.notes: list[str] = []
        self.offered = 0
        # Rows that look alike are as many signs.
        self._times: Counter[str] = Counter()

    def read(
        self, point: ParsedPoint, draft: SignDraft | None = None, row: int = 0, chosen: bool = False
    ) -> Ready:
        """Read one point, or one that was read as a draft already, by choice or by its words.

        Raises:
            UsageError: it is no sign, or something of it cannot be; then no note is kept either.
        """
        if point.rounded:
            raise UsageError(ROUNDED)
        notes: list[str] = []
        cells = ours(point.cells)
        day = local_day(point, self.session.settings.tz) or self.choices.on
        if draft is None and "kind" in cells:
            said = sign_of(cells, day, self.session.settings)
        else:
            draft = draft or _draft(self.shorthand, point, cells)
            said = sign_from_draft(draft, point, cells, day, self.session.settings)
            if draft.unknown:
                notes.append(f"{point.where}: kept as a note: {' '.join(draft.unknown)}")
        at = place_of_point(point, cells)
        self.nearby.check(at)
        if point.accuracy_m is not None and not said.seen.note:
            note = f"place to within {point.accuracy_m:.0f} m, by the phone"
            said = replace(said, seen=replace(said.seen, note=note))
        said = self._offered(point, said, notes)
        turns = (row in self.choices.turned) != self.choices.turn_all
        if turns and (heading := said.seen.heading) is not None:
            # Of a rub it is the bare side if it was read as travel, or the other way.
            as_bare = said.kind == "rub" and self.session.settings.bare_side_rule
            heading = replace(heading, bare=not heading.bare) if as_bare else turned(heading)
            said, chosen = replace(said, seen=replace(said.seen, heading=heading)), True
        ready = self._ready(point, said, at, row, chosen)
        self.notes += notes
        return ready

    def id_of(self, point: ParsedPoint, at: tuple[float, float]) -> str | None:
        """Give the id that a waypoint has as a sign, whatever its words; None for a table's row."""
        day = local_day(point, self.session.settings.tz) or self.choices.on
        if point.cells or day is None:
            return None
        said = SignCells("rub", None, None, SaidSighting(day))
        return content_id("s", _identity(point, said, at), "0")

    def _offered(self, point: ParsedPoint, said: SignCells, notes: list[str]) -> SignCells:
        """Take the direction in which a photo looked as a rub's travel, if that was agreed to."""
        if point.offered is None or said.kind != "rub" or said.seen.heading is not None:
            return said
        way = f"{point.offered.bearing.deg:.0f}"
        if not self.choices.photo_direction:
            self.offered += 1
            notes.append(f"{point.where}: its camera looked {way}; not taken as his travel")
            return said
        notes.append(f"{point.where}: he was headed {way}, as its camera looked")
        return replace(said, seen=replace(said.seen, heading=point.offered))

    def _ready(
        self, point: ParsedPoint, said: SignCells, at: tuple[float, float], row: int, chosen: bool
    ) -> Ready:
        identity = _identity(point, said, at)
        nth = self._times[identity]
        self._times[identity] += 1
        made = content_id("s", identity, str(nth))
        sign, sighting = said.sign or point.made or made, said.sighting or f"g{made[1:]}"
        if point.made and not said.sighting:
            sighting = _look_of_day(self.session, point.made, said.seen.seen_on) or sighting
        words = {"species": tidy(said.species), "note": said.note, "bed_of": said.bed_of}
        of_sign = checked_sign({"kind": said.kind, "lat": at[0], "lon": at[1], **words})
        of_sighting = sighting_fields(self.session, sign, said.kind, at, said.seen)
        raw = repr((point.name, point.text, at, dict(point.cells)))
        mark = _chosen_mark(raw) if chosen else _hash(repr((of_sign, of_sighting)))
        of_sign["source"] = f"{self.file}#{mark}"
        return Ready(
            point.where, sign, sighting, said.kind, *at, said.seen.seen_on, of_sign, of_sighting,
            row, raw, chosen,
        )  # fmt: skip


def _look_of_day(session: Session, sign: str, day: date) -> str | None:
    """The look that a sign had on a day, where a device kept its id alone."""
    row = session.con.execute(
        "SELECT sighting FROM sightings WHERE sign = ? AND seen_on = ? AND gone IS NOT TRUE"
        " ORDER BY sighting LIMIT 1",
        [sign, day],
    ).fetchone()
    return str(row[0]) if row else None


def _draft(shorthand: Shorthand, point: ParsedPoint, cells: Mapping[str, str]) -> SignDraft:
    draft = shorthand.read(*words_of(point, cells), cells.get("hint", point.hint))
    if isinstance(draft, Asked):
        raise UsageError(f"{draft.why}: {draft.guess}?", "take it in with: camsign import FILE")
    if draft is None:
        raise UsageError("no word in it names a kind of sign", "write it like rub alder 2in fresh")
    if not isinstance(draft, SignDraft):
        raise UsageError("it is no sign", "take the whole file in with: camsign import FILE")
    return draft


def place_of_point(point: ParsedPoint, cells: Mapping[str, str]) -> tuple[float, float]:
    """Give where a point lies [deg]. Raises UsageError if its cells hold no place."""
    if point.lat is not None and point.lon is not None:
        check_lat_lon(point.lat, point.lon)
        return point.lat, point.lon
    return place_of(cells)


def _identity(point: ParsedPoint, said: SignCells, at: tuple[float, float]) -> str:
    """What stays the same when a person changes the words of a waypoint or a row.

    A receiver keeps a waypoint's name and the time of its making; a table has no better than kind,
    place and day.
    """
    if point.name and point.when and not point.cells:
        return f"{point.name}|{point.when.isoformat()}"
    day = said.seen.seen_on.isoformat()
    named = point.name if not point.cells else said.kind
    return f"{named}|{at[0]:.6f}|{at[1]:.6f}|{day}"


def _standing(
    session: Session, signs: list[str], sightings: list[str]
) -> dict[str, dict[str, Any]]:
    """What is known of these ids, removed ones too."""
    found: dict[str, dict[str, Any]] = {}
    for table, key, ids in (("signs", "sign", signs), ("sightings", "sighting", sightings)):
        cursor = session.con.execute(
            f"SELECT * FROM {table} WHERE {key} IN (SELECT unnest(?::VARCHAR[]))", [ids]
        )
        names = [column[0] for column in cursor.description or []]
        found |= {row[0]: dict(zip(names, row, strict=True)) for row in cursor.fetchall()}
    return found


def _says_the_same(r: Ready, sign: Mapping[str, Any], sighting: Mapping[str, Any]) -> bool:
    stands = (sign["source"] or "").rpartition("#")[2]
    # Where a person chose how a row is read, the same row again does not undo it.
    if stands == _chosen_mark(r.raw) and not r.chosen:
        return True
    if stands and stands == r.of_sign["source"].rpartition("#")[2] and not r.chosen:
        return True
    of_sign = ((sign.get(name), value) for name, value in r.of_sign.items() if name != "source")
    of_sighting = ((sighting.get(name), value) for name, value in r.of_sighting.items())
    return all(_plain(old) == _plain(now) for old, now in (*of_sign, *of_sighting))


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def _chosen_mark(raw: str) -> str:
    return f"by-hand-{_hash(raw)}"


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str) and value.startswith("{"):
        return json.loads(value)
    return value
