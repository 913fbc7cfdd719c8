"""Asks all that a page about an area or a buck needs, and puts the page together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from camsign.answers.bedding import bedding
from camsign.answers.calendar import calendar
from camsign.answers.compare import compare
from camsign.answers.ground import Ground, NamedArea, ground, pictured
from camsign.answers.result import Figure as Number
from camsign.answers.rivals import rivals
from camsign.answers.scope import Scope, scope_of
from camsign.answers.verdict import SHORT
from camsign.answers.visits import Visits, visits
from camsign.answers.when import when
from camsign.errors import CamsignError, UsageError, quoted
from camsign.flows.handover.pictures import best_pictures, drawn_anew
from camsign.formats.days import People
from camsign.formats.days import day as day_of
from camsign.geo import area_center, distance_bearing
from camsign.logbook.moments import season_of, today
from camsign.logbook.session import Session
from camsign.report import charts
from camsign.report.chart_days import calendar_chart
from camsign.report.chart_hours import day_by_sun
from camsign.report.mapsign import WorkedOut
from camsign.report.nameless import Hidden, aliases, nameless
from camsign.report.page import Page, Picture, Section, Table, map_of, picture_of, write_page
from camsign.report.propertymap import map_figure
from camsign.sign.lines import LineRow, sign_lines
from camsign.sign.proposals import propose
from camsign.sits.terrain import terrain_of
from camsign.tags.bucks import BuckRow, BuckSaid, find_buck, show_buck
from camsign.units import counted

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Around an area so much is drawn of what lies there [m].
_AROUND_M = 600.0
_PICTURES, _WIDEST = 6, 900
_CUT = "pictures are cut where cameras print, look at them before you post it"
CAUTIONS = (
    "Absence of pictures is not absence of the buck.",
    "Shooting light and seasons are set by the law where you hunt: check them this year.",
    "Wear a full-body harness, keep three points of contact, tell someone where you are.",
)


def write_report(
    session: Session,
    names: list[str],
    path: Path,
    season: int | None = None,
    no_places: bool = False,
) -> Path:
    """Write one self-contained page about areas and bucks, or about the whole property.

    Args:
        session: the open logbook.
        names: of areas and bucks; none: which area deserves the sits.
        path: the HTML file; it is replaced as a whole.
        season: a hunting year; the latest with detections if None.
        no_places: leave out every map, coordinate and name of a place or camera.

    Raises:
        UsageError: a name is neither an area nor a buck, or the page does not end in .html.
    """
    if path.suffix.lower() not in (".html", ".htm"):
        given = " ".join(quoted(name) for name in [*names, path.stem])
        raise UsageError(
            "no file to write was named",
            f"name it last, ending in .html: camsign report {given} page.html",
        )
    there = ground(session)
    cameras = sorted({c.name for c in there.cameras})
    hidden = (aliases([a.name for a in there.areas], [p.name for p in there.places], cameras)
              if no_places else None)  # fmt: skip
    areas = {word: a for a in reversed(there.areas) for word in (a.area_id, a.name.casefold())}
    subjects = [areas.get(name.casefold()) or _buck(session, there, name) for name in names]
    sections = [_of_area(session, there, one, season, hidden) if isinstance(one, NamedArea)
                else _of_buck(session, there, one, season, hidden) for one in subjects]  # fmt: skip
    sections = sections or [_property(session, there, season, hidden)]
    title = ", ".join(s.name if isinstance(s, NamedArea) else s.buck for s in subjects)
    title = title or ("The property" if no_places else session.folder.root.resolve().name)
    day = today(session.settings.tz)
    about = f"no places in it; {_CUT}" if no_places else "with exact places: do not post it"
    page = Page(title, f"Made {day_of(day)} by camsign, {about}.", sections, CAUTIONS)
    return write_page(nameless(_in_words(page, People(session.settings.units)), hidden), path)


def _in_words(page: Page, people: People) -> Page:
    """Give a page with its days as people write them."""
    sections = [replace(s, said=people.prose(s.said), why=people.lines(s.why),
                        method=people.prose(s.method)) for s in page.sections]  # fmt: skip
    return replace(page, sections=sections)


def _buck(session: Session, there: Ground, name: str) -> BuckSaid:
    try:
        return find_buck(session, name)
    except UsageError:
        known = ", ".join(a.name for a in there.areas) or "none"
        raise UsageError(f"{name!r} is no area and no buck", f"areas: {known}") from None


def _property(session: Session, there: Ground, season: int | None, hidden: Hidden) -> Section:
    answer = nameless(compare(session, scope_of(session, season=season)), hidden)
    rows = [(r.area, _odds(r.evenings_with_one_per_10, 0),
             _odds(r.shooting_light_visits_per_10_days, 1), r.visits, SHORT[r.verdict],
             _odds(r.rivals, 0), r.nights_watched) for r in answer.rows]  # fmt: skip
    head = ("area", "evenings in 10 with a mature buck out",
            "visits in shooting light per 10 days", "visits", "bedding",
            "mature bucks", "nights covered")  # fmt: skip
    pictures = [picture_of(partial(charts.areas_compared, answer), "the areas, how sure that is")]
    pictures += _map(session, there, "The property", hidden)
    return Section("Which area to sit", answer.said, pictures, [Table(head, rows)],
                   answer.why, answer.method)  # fmt: skip


def _of_area(
    session: Session, there: Ground, one: NamedArea, season: int | None, hidden: Hidden
) -> Section:
    scope = scope_of(session, None, [one.area_id], season=season)
    bed = nameless(bedding(session, scope), hidden)
    seen = nameless(visits(session, scope), hidden)
    many = nameless(rivals(session, scope), hidden)
    said = f"{bed.said} {many.behind(bed.said)}"
    pictures = _map(session, there, one.name, hidden, one.area_id)
    pictures += _calendar(session, scope, hidden)
    pictures.append(picture_of(partial(charts.rose, bed), "which way bucks go in and out"))
    beds = [(b.buck, b.said, _odds(b.days_bedded, 0), b.mornings,
             b.evenings) for b in bed.bucks]  # fmt: skip
    head = ("buck", "bedding", "days bedded", "mornings", "evenings")
    tables = [Table(head, beds), _visit_table(seen, "buck")]
    tables = [t for t in tables if t.rows]
    return Section(bed.area, said, pictures, tables, bed.why, bed.method)


def _of_buck(
    session: Session, there: Ground, one: BuckSaid, season: int | None, hidden: Hidden
) -> Section:
    scope = scope_of(session, [one.buck_id], season=season)
    came = visits(session, scope)
    seen = nameless(came, hidden)
    row = nameless(show_buck(session, one.buck_id, season), hidden)
    said = _who(row) + " " + _where(seen)
    pictures = _faces(session, one, hidden)
    pictures += _map(session, there, one.buck, hidden, buck=scope)
    top = next((r.area for r in came.rows if r.visits), None)
    if top:
        at = replace(scope, area_ids=scope_of(session, None, [top]).area_ids)
        times = nameless(when(session, at, test=False), hidden)
        hours = partial(day_by_sun, times, gray_of(session))
        pictures.append(picture_of(hours, "the hours of his visits by the sun"))
        pictures.append(picture_of(partial(charts.months, times), "his odds month by month"))
        pictures += _calendar(session, at, hidden)
    pictures += _years(session, one, hidden)
    table = _visit_table(seen, "area")
    return Section(one.buck, said, pictures, [table] * bool(table.rows), seen.why, seen.method)


def _who(row: BuckRow) -> str:
    age = f", {row.age.value:g} years old" if row.age.value is not None else ", of unknown age"
    last = f"; last seen {day_of(row.last_seen)}" if row.last_seen else ""
    return f"{row.buck}{age}{last}."


def _where(seen: Visits) -> str:
    came = [r for r in seen.rows if r.visits]
    if not came:
        return "Can't tell where he is: no sure picture near an area on those days."
    parts = [
        f"{r.area}: {counted(r.visits, 'visit')} ({r.day + r.gray} in shooting light)" for r in came
    ]
    return "; ".join(parts) + "."


def _visit_table(seen: Visits, by: Literal["buck", "area"]) -> Table:
    """Say who came to one area, or where one buck came."""
    head = (by, "visits", "in shooting light", "days covered", "visits per 100 days")
    rows = [(getattr(r, by) or "", r.visits, r.day + r.gray, r.nights_watched,
             _odds(r.per_100_nights, 0)) for r in seen.rows if r.visits]  # fmt: skip
    return Table(head, rows)


def _odds(number: Number, digits: int) -> str:
    if number.value is None or number.low is None or number.high is None:
        return "can't tell"
    a, b, c = (f"{n:.{digits}f}" for n in (number.value, number.low, number.high))
    return f"{a} ({b} to {c})"


def _calendar(session: Session, scope: Scope, hidden: Hidden) -> list[Picture]:
    try:
        days = nameless(calendar(session, scope), hidden)
    except CamsignError:
        return []
    return [picture_of(partial(calendar_chart, days), "visits day by day, unknown days apart")]


def _years(session: Session, one: BuckSaid, hidden: Hidden) -> list[Picture]:
    """His last seasons side by side; nothing of one season alone."""
    seasons = seasons_of(session, one.buck_id)
    if len(seasons) < 2:
        return []
    found = [(y, nameless(visits(session, scope_of(session, [one.buck_id], season=y)), hidden))
             for y in seasons]  # fmt: skip
    return [picture_of(partial(charts.years, one.buck, found), "his seasons side by side")]


def gray_of(session: Session) -> tuple[float, float]:
    """Give how long it counts as light before sunrise and after sunset [minutes]."""
    return session.settings.light_before_min, session.settings.light_after_min


def seasons_of(session: Session, buck_id: str) -> list[int]:
    """Give the hunting years from a buck's first picture to his last, the latest four at most."""
    row = session.con.execute(
        "SELECT min(day), max(day) FROM detections d JOIN bucks_now n ON n.buck = d.buck_id"
        " WHERE n.buck_id = ? AND d.doubt IS NULL",
        [buck_id],
    ).fetchone()
    if row is None or row[0] is None:
        return []
    first, last = (season_of(day, session.settings.season_start) for day in row)
    return list(range(max(first, last - 3), last + 1))


def _map(
    session: Session, there: Ground, title: str, hidden: Hidden, area_id: str | None = None,
    buck: Scope | None = None,
) -> list[Picture]:  # fmt: skip
    if hidden is not None:
        return []
    sub = f"{buck.season} season" if buck and buck.season is not None else ""
    return [map_of(property_map(session, there, title, sub, area_id, buck, in_a_page=True))]


def property_map(
    session: Session,
    there: Ground,
    title: str,
    sub: str = "",
    area_id: str | None = None,
    buck: Scope | None = None,
    season: int | None = None,
    notes: Callable[[Ground], dict[str, str]] = lambda _: {},
    day: date | None = None,
    in_a_page: bool = False,
) -> Figure:
    """Draw what lies on the ground and what was worked out of it, of `map_figure`'s arguments.

    `area_id`: only what lies around this area. `buck`: ring the cameras that pictured him in these
    days. `season`: only lines and hubs of it. `notes`: of what is shown. `day`: today if None.

    Raises:
        InputRefused: nothing has a place yet.
    """
    seen = {row.deployment: row for row in pictured(session, buck)} if buck else {}
    hubs = [p for p in propose(session, season) if p.kind == "bedding" and p.region_m]
    found = WorkedOut(sign_lines(session, season), hubs, seen)
    if area_id is not None:
        found = _found_around(found, there, area_id)
        there = around(there, area_id, found.lines)
    land, when_read = terrain_of(session.folder), day or today(session.settings.tz)
    return map_figure(there, title, notes(there), land, when_read, found, sub, in_a_page)


def _found_around(found: WorkedOut, there: Ground, area_id: str) -> WorkedOut:
    """Give the part of what was worked out that lies around an area."""
    near = _near(there, area_id)
    return replace(
        found,
        lines=[one for one in found.lines if near(one.start) or near(one.end)],
        hubs=[hub for hub in found.hubs if near((hub.lat, hub.lon))],
    )


def _near(there: Ground, area_id: str) -> Callable[[tuple[float, float]], bool]:
    """Say of a place whether it lies around the middle of an area, as the middle itself does."""
    middle = area_center(next(a.area for a in there.areas if a.area_id == area_id))
    return lambda at: float(distance_bearing(*middle, *at)[0]) <= _AROUND_M


def around(there: Ground, area_id: str, lines: Sequence[LineRow] = ()) -> Ground:
    """Give the part of the ground around an area: what lies near it, ways that come near it, and
    the rubs of these lines, however far they lead."""
    on_lines = {(round(lat, 6), round(lon, 6)) for one in lines for lat, lon in one.points}
    near = _near(there, area_id)
    return replace(
        there,
        cameras=tuple(c for c in there.cameras if near((c.lat, c.lon))),
        sign=tuple(s for s in there.sign if near((s.lat, s.lon))
                   or (round(s.lat, 6), round(s.lon, 6)) in on_lines),
        areas=tuple(a for a in there.areas if near(area_center(a.area))),
        places=tuple(p for p in there.places if any(near((lat, lon)) for lon, lat in p.line)),
    )  # fmt: skip


def _faces(session: Session, one: BuckSaid, hidden: Hidden) -> list[Picture]:
    """His best pictures, drawn anew so that nothing but their pixels is in the page."""
    found, people = [], People(session.settings.units)
    for best in best_pictures(session, one.buck_id, _PICTURES):
        try:
            taken = session.folder.original(best.file).read_bytes()
            data = drawn_anew(taken, _WIDEST, cut=hidden is not None)
        except (OSError, ValueError):
            continue
        camera = (hidden or {}).get(best.camera, best.camera)
        words = f"{people.at(best.local)}, {camera}"
        found.append(Picture("image/jpeg", data, words, small=True))
    return found
