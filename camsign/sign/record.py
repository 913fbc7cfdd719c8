"""The sign log: what is said of a sign, and what stands of it.

A sign is where and what; each time it was looked at is a sighting, with its own day, look, bearing
and measures. The same rub seen in several seasons is one sign with several sightings.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from camsign.errors import UsageError
from camsign.geo import check_lat_lon
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.moments import season_of, today
from camsign.logbook.session import Session
from camsign.sign.aging import ABSENT, state_of
from camsign.sign.heading import ReadHeading, SaidHeading, parse_heading, read_heading
from camsign.sign.kinds import (
    TRAVELED,
    checked_bed_of,
    checked_measures,
    measure_words,
    parse_measures,
    sign_kind,
)
from camsign.sign.windows import made_window
from camsign.units import Bearing, UnitSystem

# A sign rubbed or used in so many seasons is traditional (1994 dissertation, second-hand).
TRADITIONAL_SEASONS = 3
_EARLIEST = date(1950, 1, 1)


@dataclass(frozen=True, slots=True)
class SaidSighting:
    """What was seen of a sign on one day (local).

    `state` is a word for its look, or `absent`; `heading` which way, as taken down; `made_from`,
    `made_to` days said outright; `measures` by kept name, heights as measured from the snow.
    """

    seen_on: date
    state: str | None = None
    heading: SaidHeading | None = None
    made_from: date | None = None
    made_to: date | None = None
    measures: Mapping[str, Any] = field(default_factory=dict)
    note: str | None = None


@dataclass(frozen=True, slots=True)
class SignSaid:
    """A sighting as said; `read_as` tells in words how its bearing and window were read."""

    sign: str
    sighting: str
    kind: str
    lat: float
    lon: float
    seen_on: date
    made_from: date | None
    made_to: date | None
    travel_deg: float | None
    season: int | None
    read_as: str


@dataclass(frozen=True, slots=True)
class SignRow:
    """One look at a sign as it stands. lat, lon [deg, WGS 84]; days local; `travel_deg` [deg true].

    `season` is that of the last day on which it can have been made; `seasons` how many it was made
    in; `traditional`: three or more. `said_from`, `said_to`: days of its making that were said
    outright. `note` is of the sign, `seen_note` of this look at it.
    `bed_of`: buck, doe or unknown, of a bed. `measures` by kept name [m, deg, number].
    """

    sign: str
    sighting: str
    kind: str
    lat: float
    lon: float
    seen_on: date
    made_from: date
    made_to: date
    travel_deg: float | None
    season: int
    species: str | None = None
    state: str | None = None
    taken_as: str | None = None
    seasons: int = 1
    traditional: bool = False
    basis: str | None = None
    said_from: date | None = None
    said_to: date | None = None
    note: str | None = None
    seen_note: str | None = None
    bed_of: str | None = None
    measures: Mapping[str, Any] = field(default_factory=dict)


def add_sign(
    session: Session,
    kind: str,
    at: tuple[float, float],
    seen: SaidSighting,
    species: str | None = None,
    note: str | None = None,
    bed_of: str | None = None,
) -> SignSaid:
    """Note a sign at a place (lat, lon) [deg, WGS 84]; `species` of its tree, `bed_of`: whose bed
    it is, buck, doe or unknown.

    Raises:
        UsageError: no such kind, place, look or measure, a day that has not come, or a bearing of a
            kind that has none.
    """
    word = sign_kind(kind)
    sign, sighting = new_id("s"), new_id("g")
    what = {
        "kind": word, "lat": at[0], "lon": at[1], "species": tidy(species), "note": note,
        "bed_of": bed_of,
    }  # fmt: skip
    edits = [
        SetFields("sign", sign, checked_sign(what)),
        SetFields("sighting", sighting, sighting_fields(session, sign, word, at, seen)),
    ]
    session.say(f"added a {word}", edits)
    return _said(session, sign, sighting, word, at, tidy(species), seen)


def look_again(
    session: Session, sign: str, seen: SaidSighting, bed_of: str | None = None
) -> SignSaid:
    """Note that a sign was looked at another day; state `absent`: that it was not there.

    `bed_of`: whose bed it is, as far as this look tells.

    Raises:
        UsageError: there is no such sign, or as for `add_sign`.
    """
    found, kind, lat, lon, species = standing_sign(session, sign)
    sighting = new_id("g")
    fields = sighting_fields(session, found, kind, (lat, lon), seen)
    edits = [SetFields("sighting", sighting, fields)]
    if whose := checked_bed_of(kind, bed_of):
        edits.append(SetFields("sign", found, {"bed_of": whose}))
    session.say(f"looked again at a {kind}", edits)
    return _said(session, found, sighting, kind, (lat, lon), species, seen)


def note_sign(
    session: Session,
    kind: str,
    at: tuple[float, float],
    on: date,
    species: str | None = None,
    note: str | None = None,
    bed_of: str | None = None,
    **look: Any,
) -> SignSaid:
    """Note a sign as people say it: `look` as for `seen_of`, the rest as for `add_sign`."""
    word = sign_kind(kind)
    return add_sign(session, word, at, seen_of(session, word, on, **look), species, note, bed_of)


def note_look(
    session: Session, sign: str, on: date, bed_of: str | None = None, **look: Any
) -> SignSaid:
    """Note another look as people say it: `look` as for `seen_of`, else as for `look_again`."""
    kind = standing_sign(session, sign)[1]
    return look_again(session, sign, seen_of(session, kind, on, **look), bed_of)


def seen_of(
    session: Session,
    kind: str,
    on: date,
    travel: str | None = None,
    bare: Bearing | None = None,
    state: str | None = None,
    measures: Sequence[str] = (),
    seen_note: str | None = None,
    absent: bool = False,
) -> SaidSighting:
    """Give what was seen on a day: `travel` such as NE or `bare SW`, `measures` such as top=38in.

    Raises:
        UsageError: it says two things of one, or a measure is none.
    """
    if travel and bare:
        raise UsageError("a rub's travel and its bare side say the same", "give one of them")
    if absent and (state or travel or bare or measures):
        raise UsageError("what was not there has no look, bearing or measures", "leave them out")
    heading = SaidHeading(bare, bare=True) if bare else parse_heading(travel) if travel else None
    said = dict(text.partition("=")[::2] for text in measures)
    if nameless := next((name for name, value in said.items() if not name or not value), None):
        raise UsageError(f"the measure {nameless!r} has no value", "write it as top=38in")
    taken = parse_measures(kind, said, session.settings)
    look = ABSENT if absent else state
    return SaidSighting(on, look, heading, measures=taken, note=seen_note)


def move_sign(session: Session, sign: str, at: tuple[float, float]) -> str:
    """Put a sign elsewhere [deg, WGS 84] and give its id. Raises UsageError if there is no such."""
    check_lat_lon(*at)
    found, kind, *_ = standing_sign(session, sign)
    session.say(f"moved a {kind}", [SetFields("sign", found, {"lat": at[0], "lon": at[1]})])
    return found


def remove_sign(session: Session, sign: str) -> str:
    """Take a sign with all its sightings out of every answer and give its id; `undo` undoes it."""
    found, kind, *_ = standing_sign(session, sign)
    session.say(f"removed a {kind}", [SetFields("sign", found, {"gone": True})])
    return found


def same_sign(session: Session, sign: str, other: str) -> str:
    """Say that two signs are one: the sightings of `sign` become those of `other`, whose id stays.

    What `other` does not say of its tree, its habit or anything else, it takes from `sign`.

    Raises:
        UsageError: one of them is unknown, they are the same, or of different kinds.
    """
    one, kind, *_ = standing_sign(session, sign)
    two, other_kind, *_ = standing_sign(session, other)
    if one == two or kind != other_kind:
        why = "the same" if one == two else f"a {kind} and a {other_kind}"
        raise UsageError(f"{sign} and {other} are {why}")
    rows = session.con.execute("SELECT sighting FROM sightings WHERE sign = ?", [one]).fetchall()
    moved = [SetFields("sighting", row[0], {"sign": two}) for row in rows]
    gone = SetFields("sign", one, {"gone": True})
    session.say(f"made two looks at a {kind} one", [*moved, *_filled(session, one, two), gone])
    return two


def _filled(session: Session, one: str, two: str) -> list[SetFields]:
    """What the first of two signs says and the second does not."""
    names = ("species", "note", "habit", "bed_of")
    said = {
        row[0]: dict(zip(names, row[1:], strict=True))
        for row in session.con.execute(
            "SELECT sign, species, note, habit, bed_of FROM signs WHERE sign IN (?, ?)", [one, two]
        ).fetchall()
    }
    new = {n: said[one][n] for n in names if said[one][n] and not said[two][n]}
    return [SetFields("sign", two, new)] if new else []


def signs(
    session: Session,
    kind: str | None = None,
    season: int | None = None,
    species: str | None = None,
) -> list[SignRow]:
    """Give the looks at signs that stand, by day seen; looks that found it absent are left out."""
    rows = session.con.execute(
        """SELECT w.sign, w.sighting, w.kind, w.lat, w.lon, w.seen_on, w.made_from, w.made_to,
            w.travel_deg, w.season, s.species, g.state, g.taken_as,
            count(DISTINCT w.season) OVER (PARTITION BY w.sign) AS seasons, false, w.basis,
            g.made_from AS said_from, g.made_to AS said_to, s.note, g.note AS seen_note,
            s.bed_of, g.measures
        FROM made_windows w JOIN signs s USING (sign) JOIN sightings g USING (sighting)
        ORDER BY w.seen_on, w.sign, w.sighting"""
    ).fetchall()
    word, tree = sign_kind(kind) if kind else None, tidy(species)
    return [
        row for row in map(_row, rows)
        if word in (None, row.kind) and season in (None, row.season)
        and (tree is None or tree in (row.species or ""))
    ]  # fmt: skip


PLAIN = [name for name in SignRow.__slots__ if name != "measures"]
"""The columns that every look at a sign has."""


def as_records(rows: Sequence[SignRow]) -> list[dict[str, Any]]:
    """Give rows as flat mappings with the same keys, each measure a column of its own."""
    names = sorted({name for row in rows for name in row.measures})
    return [
        {n: getattr(row, n) for n in PLAIN}
        | {n: " ".join(v) if isinstance(v := row.measures.get(n), list) else v for n in names}
        for row in rows
    ]


def checked_sign(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Give what is said of a sign, its place checked (UsageError if there is none such)."""
    check_lat_lon(fields["lat"], fields["lon"])
    fields = {**fields, "bed_of": checked_bed_of(fields["kind"], fields.get("bed_of"))}
    return {name: value for name, value in fields.items() if value is not None}


def sighting_fields(
    session: Session,
    sign: str,
    kind: str,
    at: tuple[float, float],
    seen: SaidSighting,
) -> dict[str, Any]:
    """Give the fields of a sighting, checked. Raises UsageError as `add_sign` does."""
    _check_days(seen, session.settings.tz)
    measures = checked_measures(kind, seen.measures)
    fields: dict[str, Any] = {"sign": sign, "seen_on": seen.seen_on.isoformat()}
    if seen.state:
        fields["state"] = state_of(kind, seen.state, session.settings)
    if seen.heading:
        if kind not in TRAVELED:
            raise UsageError(f"a {kind} has no bearing of travel", "leave the bearing out")
        read = read_heading(kind, seen.heading, at, seen.seen_on, session.settings)
        fields |= {"travel_deg": read.travel_deg, "taken_as": read.taken_as}
        measures |= {"bare_deg": round(read.bare_deg, 1)} if read.bare_deg is not None else {}
    days = {"made_from": seen.made_from, "made_to": seen.made_to}
    fields |= {name: day.isoformat() for name, day in days.items() if day}
    fields |= {"measures": measures or None, "note": seen.note}
    return {name: value for name, value in fields.items() if value is not None}


def tidy(text: str | None) -> str | None:
    """Give a species or the like as it is kept: lower case, single blanks; None if empty."""
    return " ".join(text.lower().split()) or None if text else None


def _check_days(seen: SaidSighting, tz: str) -> None:
    # A day ahead is possible: the person may stand in a zone east of the property.
    if seen.seen_on > today(tz) + timedelta(days=1):
        raise UsageError(f"{seen.seen_on} is in the future", "fix the day you saw it")
    if seen.seen_on < _EARLIEST:
        raise UsageError(f"nobody saw it in {seen.seen_on.year}", "mend the day of its sighting")
    if seen.made_from and seen.made_from > seen.seen_on:
        raise UsageError(f"made after {seen.made_from}, but seen on {seen.seen_on}", "mend a day")
    if seen.made_from and seen.made_to and seen.made_from > seen.made_to:
        raise UsageError(f"it cannot be made from {seen.made_from} to {seen.made_to}", "swap them")


def standing_sign(session: Session, sign: str) -> tuple[str, str, float, float, str | None]:
    """Give a sign's id, kind, place [deg] and tree by its id. Raises UsageError if none."""
    row = session.con.execute(
        "SELECT sign, kind, lat, lon, species FROM signs WHERE sign = ? AND gone IS NOT TRUE",
        [sign.strip().lower()],
    ).fetchone()
    if row is None:
        raise UsageError(f"there is no sign {sign!r}", "list them with: camsign sign list")
    return row[0], row[1], row[2], row[3], row[4]


def _said(
    session: Session,
    sign: str,
    sighting: str,
    kind: str,
    at: tuple[float, float],
    species: str | None,
    seen: SaidSighting,
) -> SignSaid:
    settings = session.settings
    state = state_of(kind, seen.state, settings) if seen.state else None
    head = (sign, sighting, kind, at[0], at[1], seen.seen_on)
    if state == ABSENT:
        words = f"read as: no {kind} was there on {seen.seen_on}"
        return SignSaid(*head, None, None, None, None, words)
    made = made_window(kind, seen.seen_on, state, species, seen.made_from, seen.made_to, settings)
    read = read_heading(kind, seen.heading, at, seen.seen_on, settings) if seen.heading else None
    taken = _taken(read, checked_measures(kind, seen.measures), settings.units)
    words = f"made between {made.made_from} and {made.made_to} ({made.basis})"
    return SignSaid(
        *head,
        made.made_from,
        made.made_to,
        read.travel_deg if read else None,
        season_of(made.made_to, settings.season_start),
        f"{taken}; {words}" if taken else words,
    )


def _taken(read: ReadHeading | None, measures: Mapping[str, Any], units: UnitSystem) -> str:
    """Say what a heading and measures were read as; empty without any."""
    measured = ", ".join(measure_words(*one, units) for one in measures.items())
    if read is None:
        return f"read as: {measured}" if measured else ""
    return f"{read.words}; {measured}" if measured else read.words


def _row(row: tuple[Any, ...]) -> SignRow:
    plain = dict(zip(SignRow.__slots__, row, strict=False))
    plain["traditional"] = plain["seasons"] >= TRADITIONAL_SEASONS
    measures = json.loads(row[-1]) if row[-1] else {}
    return SignRow(**{**plain, "measures": measures})
