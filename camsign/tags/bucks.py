"""Bucks: one individual each, with a name, traits, an age that has a basis and a year, and his end.

An age belongs to the season in which it was judged; in another season he is older or younger by the
years between. Ages on the hoof are guesses: a range and a basis belong to each.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from camsign.errors import UsageError
from camsign.logbook import naming
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.moments import latest_season, local, season_of, today
from camsign.logbook.named import known_bucks
from camsign.logbook.things import BUCK
from camsign.stats.estimate import Estimate
from camsign.tags.vocabulary import subject_of_word

if TYPE_CHECKING:
    from camsign.logbook.session import Session

MAX_AGE = 25.0
_FIELDS = tuple(n for n in BUCK.columns if n not in ("name", "merged_into", "linked", "gone"))


@dataclass(frozen=True, slots=True)
class BuckRow:
    """A buck in one season. `age` [years] in that season; `first_seen`, `last_seen` ever, local."""

    buck: str
    buck_id: str
    season: int
    age: Estimate
    mature: bool | None
    first_seen: datetime | None
    last_seen: datetime | None
    frames: int
    traits: str | None = None
    age_basis: str | None = None
    age_year: int | None = None
    ended: str | None = None


@dataclass(frozen=True, slots=True)
class BuckSaid:
    """A buck's name and permanent id after something was said of him.

    `age_season`: the season in which he is the age that was just said, if one was.
    """

    buck: str
    buck_id: str
    age_season: int | None = None


def add_buck(session: Session, name: str, **details: Any) -> BuckSaid:
    """Add a buck; `details` as for `set_buck`.

    Raises:
        UsageError: the name is taken or is a word for what is in a frame, or a detail does not fit.
    """
    kept = checked_name(name)
    naming.refuse_taken(known_bucks(session).names, kept, "buck")
    fields = {"name": kept, **checked_details(session, details)}
    buck = new_id("b")
    session.say(f"added buck {kept}", [SetFields("buck", buck, fields)])
    return BuckSaid(kept, buck, fields.get("age_year"))


def set_buck(session: Session, buck: str, **details: Any) -> BuckSaid:
    """Say something of a buck, named by name or id; what is None stays.

    Args:
        buck: name or id.
        details: `traits`, `age`, `age_low`, `age_high` ([years]; of a range alone the age is the
            middle), `age_basis`, `age_year` (the season in which he was that old; by default that
            of his pictures, else of the newest pictures), `ended` (how and when).

    Raises:
        UsageError: there is no such buck, nothing was said, an age without sense or basis, or one
            without a season where his pictures are of several.
    """
    found = find_buck(session, buck)
    fields = checked_details(session, details, found)
    if not fields:
        raise UsageError(f"nothing to set of {found.buck} was named")
    session.say(
        f"changed what is known of {found.buck}", [SetFields("buck", found.buck_id, fields)]
    )
    return BuckSaid(found.buck, found.buck_id, fields.get("age_year"))


def rename_buck(session: Session, buck: str, name: str) -> BuckSaid:
    """Give a buck another name; his id stays. Raises UsageError if the name is taken.

    Where two people merged two bucks each into the other, this settles it: he is the one.
    """
    found = find_buck(session, buck)
    kept = checked_name(name)
    naming.refuse_taken(known_bucks(session).names, kept, "buck", but=found.buck_id)
    ringed = session.con.execute(
        "SELECT 1 FROM bucks WHERE buck = ? AND merged_into IS NOT NULL", [found.buck_id]
    ).fetchone()
    fields = {"name": kept} | ({"merged_into": None} if ringed else {})
    edit = SetFields("buck", found.buck_id, fields)
    session.say(f"renamed {found.buck} to {kept}", [edit])
    return BuckSaid(kept, found.buck_id)


def merge_bucks(session: Session, buck: str, into: str) -> BuckSaid:
    """Say that one buck is another: his frames become the other's; `undo` splits them again.

    Raises:
        UsageError: one of them is unknown, or both are the same.
    """
    one, other = find_buck(session, buck), find_buck(session, into)
    if one.buck_id == other.buck_id:
        raise UsageError(f"{one.buck} and {other.buck} are the same buck already")
    edit = SetFields("buck", one.buck_id, {"merged_into": other.buck_id})
    session.say(f"merged {one.buck} into {other.buck}", [edit])
    return other


def bucks(session: Session, season: int | None = None) -> list[BuckRow]:
    """Give the bucks that stand, by name, with age and maturity in a season.

    The season is by default the latest with detections or watch, else the present one. He counts as
    mature if his age there is at least the setting `mature_age`; None without an age.
    """
    year = season if season is not None else latest_season(session)
    if year is None:
        year = season_of(today(session.settings.tz), session.settings.season_start)
    rows = session.con.execute(
        f"""SELECT now.name, b.buck, {", ".join(_FIELDS)}, seen.first, seen.last, seen.frames
        FROM bucks b JOIN bucks_now now ON now.buck = b.buck AND now.buck_id = b.buck
        LEFT JOIN (
            SELECT n.buck_id, min(d.utc) FILTER (d.doubt IS NULL) AS first,
                max(d.utc) FILTER (d.doubt IS NULL) AS last, count(DISTINCT d.frame) AS frames
            FROM detections d JOIN bucks_now n ON n.buck = d.buck_id GROUP BY ALL
        ) seen ON seen.buck_id = b.buck
        WHERE b.gone IS NOT TRUE ORDER BY lower(now.name), b.buck"""
    ).fetchall()
    return [_row(session, row, year) for row in rows]


def show_buck(session: Session, buck: str, season: int | None = None) -> BuckRow:
    """Give one buck, named by name or id. Raises UsageError if there is none."""
    found = find_buck(session, buck)
    return next(row for row in bucks(session, season) if row.buck_id == found.buck_id)


def find_buck(session: Session, said: str) -> BuckSaid:
    """Give the buck of a name or id; a merged buck's old name and id lead to who he is now.

    Raises:
        UsageError: there is none; the nearest name is offered.
    """
    known = known_bucks(session)
    found = known.find(said)
    return BuckSaid(known.name(found), found)


def checked_name(name: str) -> str:
    """Give a buck's name as it is kept.

    Raises:
        UsageError: it can be no name, or already is a word for what is in a frame.
    """
    kept = naming.cleaned(name, "buck")
    if subject_of_word(kept):
        raise UsageError(f"{kept!r} is a word for what is in a frame", "give the buck another name")
    return kept


def checked_details(
    session: Session, said: dict[str, Any], buck: BuckSaid | None = None
) -> dict[str, Any]:
    """Give the fields to set of a buck, or of a new one, checked as for `set_buck`."""
    unknown = sorted(set(said) - set(_FIELDS))
    if unknown:
        raise TypeError(f"a buck has no {', '.join(unknown)}")
    old = stored_details(session, buck.buck_id) if buck else {}
    fields = {k: v for k, v in said.items() if v is not None}
    low, high = fields.get("age_low"), fields.get("age_high")
    if "age" not in fields and low is not None and high is not None:
        stands = old.get("age")
        if stands is None or not low <= stands <= high:
            fields["age"] = (low + high) / 2
    if "age" in fields:
        # A new age starts afresh: an old range or basis would not belong to it.
        fields = {"age_low": None, "age_high": None, **fields}
        if fields.get("age_year") is None:
            fields["age_year"] = _season_meant(session, buck)
        old = {**old, "age_basis": None}
    _check_age({**old, **fields})
    if (fields.get("age_year") or 0) > today(session.settings.tz).year:
        raise UsageError(f"season {fields['age_year']} is in the future", "is the year right?")
    return fields


def _season_meant(session: Session, buck: BuckSaid | None) -> int:
    """The season of a buck's pictures if they are of one; without any that of the newest pictures,
    and in a logbook without those the present one."""
    start = session.settings.season_start
    days = session.con.execute(
        "SELECT DISTINCT d.day FROM detections d JOIN bucks_now n ON n.buck = d.buck_id"
        " WHERE n.buck_id = ? AND d.doubt IS NULL",
        [buck.buck_id if buck else ""],
    ).fetchall()
    seasons = sorted({season_of(day, start) for (day,) in days})
    if len(seasons) > 1 and buck:
        told = ", ".join(map(str, seasons))
        raise UsageError(
            f"{buck.buck} has pictures of {len(seasons)} seasons ({told}), and an age is of one",
            f"say which: --season {seasons[-1]}",
        )
    if seasons:
        return seasons[0]
    row = session.con.execute("SELECT max(day) FROM frame_times WHERE doubt IS NULL").fetchone()
    return season_of(row[0] if row and row[0] else today(session.settings.tz), start)


def _check_age(buck: dict[str, Any]) -> None:
    age, low, high = (buck.get(k) for k in ("age", "age_low", "age_high"))
    for value in (age, low, high):
        if value is not None and not 0 <= value <= MAX_AGE:
            raise UsageError(f"{value:g} years? Ages go from 0 to {MAX_AGE:g}")
    if age is None:
        if low is not None or high is not None:
            raise UsageError(
                "a range of ages needs both its ends, or the likeliest age", "add --age"
            )
        return
    if not (low if low is not None else age) <= age <= (high if high is not None else age):
        raise UsageError(f"the age {age:g} lies outside its own range")
    if not buck.get("age_basis"):
        raise UsageError("how do you know his age?", 'Add --basis "body in October"')
    if int(buck.get("age_year") or 0) < 1900:
        raise UsageError(f"{buck.get('age_year')} is no season", "name it by its first year")


def _row(session: Session, row: tuple[Any, ...], season: int) -> BuckRow:
    name, buck, traits, age, low, high, age_year, basis, ended, first, last, frames = row
    older = season - age_year if age is not None and age_year is not None else None
    ages = (
        None if x is None or older is None or x + older < 0 else x + older for x in (age, low, high)
    )
    estimate, tz = Estimate(*ages), session.settings.tz
    return BuckRow(
        buck=name,
        buck_id=buck,
        season=season,
        age=estimate,
        mature=None if estimate.value is None else estimate.value >= session.settings.mature_age,
        first_seen=local(first, tz) if first else None,
        last_seen=local(last, tz) if last else None,
        frames=frames or 0,
        traits=traits,
        age_basis=basis,
        age_year=age_year,
        ended=ended,
    )


def stored_details(session: Session, buck: str) -> dict[str, Any]:
    """Give what is known of a buck, field by field as `set_buck` takes it."""
    row = session.con.execute(
        f"SELECT {', '.join(_FIELDS)} FROM bucks WHERE buck = ?", [buck]
    ).fetchone()
    return dict(zip(_FIELDS, row, strict=True)) if row else {}
