"""The journal of sits: stand, hours, wind, who was seen from there, what was spooked.

A sit is one act: the sit and everybody met on it.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from camsign.errors import UsageError
from camsign.formats.days import day as in_words
from camsign.logbook import named
from camsign.logbook.edits import Edit, SetFields, new_id
from camsign.logbook.moments import as_text, aware, stored, today
from camsign.logbook.named import known_bucks
from camsign.logbook.outings import ENCOUNTER, SIT
from camsign.logbook.session import Session
from camsign.logbook.things import PLACE
from camsign.sits.hourwords import light_of_day, read_hours
from camsign.sits.sightwords import Seen, read_seen
from camsign.units import parse_bearing
from camsign.zones import zone

_PACES = {"mph": 0.44704, "kmh": 1 / 3.6, "km/h": 1 / 3.6, "kph": 1 / 3.6, "m/s": 1.0}
_WIND = re.compile(r"(?P<way>\S+?)(?:\s+(?P<pace>\d+(?:\.\d+)?)\s*(?P<unit>[a-z/]*))?", re.I)
_CALM = frozenset(("calm", "none", "still"))


@dataclass(frozen=True, slots=True)
class SitRow:
    """A sit: from `start` to `stop` (UTC), so many hours; the wind came from `wind_deg` [deg] at
    `wind_ms` [m/s]; `seen` in order.
    """

    sit: str
    stand: str
    stand_id: str
    day: date
    start: datetime
    stop: datetime
    hours: float
    wind_deg: float | None
    wind_ms: float | None
    seen: tuple[Seen, ...]
    note: str | None


@dataclass(frozen=True, slots=True)
class SitSaid:
    """A sit as it was said: from `start` to `stop` (UTC); `met`: how many kinds were written down,
    the spooked ones among them.
    """

    sit: str
    stand: str
    stand_id: str
    day: date
    start: datetime
    stop: datetime
    met: int


@dataclass(frozen=True, slots=True)
class Draft:
    """A sit to be said: its id, its stand's id, from when to when (UTC), the edits."""

    sit: str
    stand_id: str
    start: datetime
    stop: datetime
    edits: tuple[Edit, ...]


def add_sit(
    session: Session,
    stand: str,
    on: date,
    hours: str,
    wind: str | None = None,
    saw: str | None = None,
    spooked: str | None = None,
    note: str | None = None,
) -> SitSaid:
    """Put a sit of a local day into the journal, the stand by name or id.

    `hours` such as `3-dark` (see `read_hours`), `wind` such as `SW 6mph`; `saw`: who was seen (see
    `read_seen`; None: nothing), `spooked`: who noticed you, the same way.

    Raises:
        UsageError: there is no such stand, or what was said is not understood.
    """
    draft = draft_of(session, None, stand, on, hours, wind, saw, spooked, note)
    return _say(session, draft, "added a sit")


def set_sit(session: Session, sit: str, **said: Any) -> SitSaid:
    """Correct a sit, by id; as `add_sit`, and what is not named stays.

    What is seen replaces what was; so does what was spooked. Raises UsageError likewise.
    """
    if not said:
        raise UsageError("nothing to change was named", "change something first")
    return _say(session, draft_of(session, sit_of(session, sit), **said), "corrected a sit")


def remove_sit(session: Session, sit: str) -> SitRow:
    """Take a sit out of the journal. Raises UsageError if there is none."""
    now = sit_of(session, sit)
    gone = SetFields("sit", now.sit, {"gone": True})
    session.say(f"removed the sit at {now.stand} on {now.day}", [gone])
    return now


def _say(session: Session, draft: Draft, what: str) -> SitSaid:
    name = named.names(session, PLACE).get(draft.stand_id, draft.stand_id)
    day = draft.start.astimezone(zone(session.settings.tz)).date()
    session.say(f"{what} at {name} on {day}", draft.edits)
    met = [e for e in draft.edits if isinstance(e, SetFields) and "what" in e.fields]
    return SitSaid(draft.sit, name, draft.stand_id, day, draft.start, draft.stop, len(met))


def draft_of(
    session: Session,
    now: SitRow | None,
    stand: str | None = None,
    on: date | None = None,
    hours: str | None = None,
    wind: str | None = None,
    saw: str | None = None,
    spooked: str | None = None,
    note: str | None = None,
    made: str | None = None,
) -> Draft:
    """What the journal is to hold of a sit, new (`now` None) or corrected.

    `made`: the id of a new one that comes from a file. Raises UsageError as `add_sit`.
    """
    place = now.stand_id if stand is None and now else stand_id(session, stand or "")
    start, stop = (
        (now.start, now.stop)
        if now and on is None and hours is None
        else _span(session, now, on, hours)
    )
    day = start.astimezone(zone(session.settings.tz)).date()
    if day > today(session.settings.tz):
        raise UsageError(f"{in_words(day)} has not come yet", "check its year")
    if not made:
        _not_said(session, now.sit if now else "", place, start, stop)
    fields: dict[str, Any] = {"stand": place, "start": as_text(start), "stop": as_text(stop)}
    fields |= _wind(wind, session.settings.units) if wind is not None else {}
    fields |= {"note": note} if note is not None else {}
    sit = now.sit if now else made or new_id(SIT.letter)
    edits: list[Edit] = [SetFields("sit", sit, fields)]
    for words, is_spooked in ((saw, False), (spooked, True)):
        if words is not None:
            edits += _gone(session, now, is_spooked)
            edits += _met(session, sit, words, (start, stop), is_spooked)
    return Draft(sit, place, start, stop, tuple(edits))


def _not_said(session: Session, own: str, stand: str, start: datetime, stop: datetime) -> None:
    """Refuse a second sit on one stand at one time: its hours and deer would count twice."""
    row = session.con.execute(
        "SELECT sit FROM sits WHERE gone IS NOT TRUE AND stand = $stand AND sit <> $own"
        ' AND start < $stop AND "stop" > $start ORDER BY sit LIMIT 1',
        {"stand": stand, "own": own, "start": stored(start), "stop": stored(stop)},
    ).fetchone()
    if row:
        name = named.names(session, PLACE).get(stand, stand)
        raise UsageError(
            f"you saved a sit at {name} for that time already ({row[0]})",
            f"change that one: camsign sit set {row[0]}",
        )


def stand_id(session: Session, said: str) -> str:
    """The stand that a name, an id, or one word of just one stand's name means.

    Raises:
        UsageError: there is none, or it is another kind of place.
    """
    rows = session.con.execute(
        "SELECT place, coalesce(name, place) FROM places WHERE gone IS NOT TRUE AND kind = 'stand'"
    ).fetchall()
    word = said.strip().casefold()
    some = [place for place, name in rows if word and word in name.casefold().split()]
    if len(some) == 1 and not any(name.casefold() == word for _, name in rows):
        return str(some[0])
    found = named.find(session, PLACE, said)
    if found not in {place for place, _ in rows}:
        raise UsageError(f"{said.strip()!r} is no stand", "name a stand: camsign place list")
    return found


def _span(
    session: Session, now: SitRow | None, on: date | None, hours: str | None
) -> tuple[datetime, datetime]:
    tz = session.settings.tz
    day = on or (now.day if now else None)
    if day is None:
        raise UsageError("the sit needs a day", "add it, such as --on 2025-11-07")
    if hours is None and now is not None:
        clock = [t.astimezone(zone(tz)).strftime("%H:%M") for t in (now.start, now.stop)]
        hours = "-".join(_halved(text) for text in clock)
    return read_hours(hours or "", day, light_of_day(session.settings, day), tz)


def _halved(clock: str) -> str:
    hour, minute = map(int, clock.split(":"))
    return f"{(hour - 1) % 12 + 1}:{minute:02d}{'pm' if hour >= 12 else 'am'}"


def _wind(text: str, units: str) -> dict[str, Any]:
    """`SW 6mph`, `SW`, `calm`. Raises UsageError."""
    if text.strip().lower() in _CALM:
        return {"wind_deg": None, "wind_ms": 0.0}
    found = _WIND.fullmatch(text.strip())
    if found is None:
        raise UsageError(f"the wind {text.strip()!r} is not understood", "write it like SW 6mph")
    unit = (found["unit"] or ("mph" if units == "imperial" else "kmh")).lower()
    if unit not in _PACES:
        raise UsageError(f"there is no wind speed in {unit!r}", f"say {', '.join(_PACES)}")
    pace = float(found["pace"]) * _PACES[unit] if found["pace"] else None
    if pace is not None and pace > 60:
        raise UsageError(f"a wind of {found['pace']} {unit} is a hurricane's", "check its speed")
    return {"wind_deg": parse_bearing(found["way"]).deg, "wind_ms": pace}


def _gone(session: Session, now: SitRow | None, spooked: bool) -> list[Edit]:
    """Take away whom a correction replaces."""
    if now is None:
        return []
    rows = session.con.execute(
        "SELECT encounter FROM encounters WHERE sit = ? AND gone IS NOT TRUE"
        " AND coalesce(spooked, FALSE) = ? ORDER BY encounter",
        [now.sit, spooked],
    ).fetchall()
    return [SetFields("encounter", one, {"gone": True}) for (one,) in rows]


def _met(
    session: Session, sit: str, words: str, span: tuple[datetime, datetime], spooked: bool
) -> list[Edit]:
    settings = session.settings
    bucks = known_bucks(session)
    names = {**bucks.former, **bucks.names}
    edits: list[Edit] = []
    for one in read_seen(words, names, span, settings.tz, settings.units, spooked):
        fields: dict[str, Any] = {"sit": sit}
        fields |= {"seen_at" if k == "at" else k: v for k, v in asdict(one).items()}
        fields["seen_at"] = as_text(one.at) if one.at else None
        fields["buck"] = one.buck and bucks.now.get(one.buck, one.buck)
        kept = {name: value for name, value in fields.items() if value is not None}
        edits.append(SetFields("encounter", new_id(ENCOUNTER.letter), kept))
    return edits


# --- reading it back -----------------------------------------------------------------------------


def sits(session: Session, first: date | None = None, last: date | None = None) -> list[SitRow]:
    """Give the sits that stand, newest first, from a local day to another (both within)."""
    rows = session.con.execute(
        "SELECT s.sit, s.stand, s.start, s.stop, s.wind_deg, s.wind_ms, s.note,"
        " coalesce(p.name, s.stand) FROM sits s LEFT JOIN places p ON p.place = s.stand"
        " WHERE s.gone IS NOT TRUE AND s.start IS NOT NULL AND s.stop > s.start"
        " AND s.stand IS NOT NULL ORDER BY s.start DESC, s.sit"
    ).fetchall()
    seen = _seen(session)
    made = [_row(session, row, seen.get(row[0], ())) for row in rows]
    return [r for r in made if (not first or r.day >= first) and (not last or r.day <= last)]


def sit_of(session: Session, sit: str) -> SitRow:
    """Give a sit by its id. Raises UsageError if there is none."""
    word = sit.strip().lower()
    found = next((row for row in sits(session) if row.sit == word), None)
    if found is None:
        raise UsageError(f"there is no sit {sit.strip()!r}", "list them: camsign sit list")
    return found


def _seen(session: Session) -> dict[str, tuple[Seen, ...]]:
    names = known_bucks(session)
    rows = session.con.execute(
        "SELECT sit, what, buck, points, mature, count, seen_at, from_deg, distance_m,"
        " coalesce(spooked, FALSE), note FROM encounters WHERE gone IS NOT TRUE"
        " AND sit IS NOT NULL ORDER BY sit, seen_at NULLS LAST, encounter"
    ).fetchall()
    found: dict[str, tuple[Seen, ...]] = {}
    for sit, what, buck, points, mature, count, at, *rest in rows:
        one = Seen(
            what or "animal", names.name(buck) if buck else None, points, mature,
            1 if count is None else count, aware(at) if at else None, *rest,
        )  # fmt: skip
        found[sit] = (*found.get(sit, ()), one)
    return found


def _row(session: Session, row: tuple[Any, ...], seen: tuple[Seen, ...]) -> SitRow:
    sit, stand, start, stop, wind_deg, wind_ms, note, name = row
    begin, end = aware(start), aware(stop)
    day = begin.astimezone(zone(session.settings.tz)).date()
    hours = (end - begin).total_seconds() / 3600
    return SitRow(sit, name, stand, day, begin, end, hours, wind_deg, wind_ms, seen, note)
