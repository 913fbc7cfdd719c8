"""The whole job on the invented season, with the functions that a user's commands call."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from camsign.api import Logbook, start_logbook
from camsign.demo.dumps import CardDump, write_dumps
from camsign.demo.land import place
from camsign.demo.notes import FieldNotes, write_field_notes
from camsign.demo.season import make_season
from camsign.errors import InputRefused

if TYPE_CHECKING:
    from camsign.answers.visits import VisitRow
    from camsign.demo.season import Season

Tell = Callable[[str], None]
SEED = 7
_MOST_ROWS = 6
# One camera was set an hour ahead, so that there is a wrong clock to be found [s].
SIT_DAY = date(2025, 11, 14)
CLOCK_ERRORS = {"CAM03": 3600}


@dataclass(frozen=True, slots=True)
class Shown:
    """What the demo leaves behind: the logbook and its map."""

    logbook: Path
    map: Path


def walk(folder: Path, tell: Tell, seed: int = SEED) -> Shown:
    """Make the season, take it in, ask the questions, draw the map.

    Args:
        folder: a new or empty folder; cards/, notes/ and the logbook are made in it.
        tell: is given each line for the person.
        seed: another season.

    Raises:
        InputRefused: there is something in the folder already.
    """
    if folder.exists() and any(folder.iterdir()):
        raise InputRefused(f"{folder} is not empty", "name a new folder: camsign demo DIR")
    season = make_season(seed, CLOCK_ERRORS)
    tell(f"{season.name} is invented, and so are its bucks. One season there, from card to answer.")
    tell("")
    dumps = write_dumps(season, folder)
    notes = write_field_notes(season, folder)
    tell(f"1. Five hunting months left {len(dumps)} memory cards ({folder / 'cards'}).")
    book = _start(season, folder / "logbook", tell)
    _take_cards(book, dumps, tell)
    _put_clocks_right(book, tell)
    _take_notes(book, season, notes, tell)
    _take_ground(book, folder, tell)
    tell("")
    rows = _answer(book, season, tell)
    _answer_tonight(book, tell)
    picture = _draw(book, folder / "map.png", season, rows)
    tell("")
    tell(f"The map: {picture}")
    tell(f"Go on by yourself: camsign --logbook {book.folder.root} visits")
    tell(f"See it all in your browser: camsign --logbook {book.folder.root}")
    return Shown(book.folder.root, picture)


def _start(season: Season, root: Path, tell: Tell) -> Logbook:
    book = start_logbook(root, home=f"{season.home[0]},{season.home[1]}", units="imperial")
    zone = ZoneInfo(season.tz)
    for hung in season.deployments:
        lat, lon = place(hung.at)
        book.hang(
            hung.camera.camera,
            f"{lat},{lon}",
            _minute(hung.hung, zone),
            until=_minute(hung.until, zone),
            facing=f"{hung.facing_deg % 360:g}T",
        )
    tell(f"2. A logbook, and {len(season.deployments)} deployments of 6 cameras said with hang.")
    return book


def _minute(utc: datetime, zone: ZoneInfo) -> str:
    return f"{utc.astimezone(zone):%Y-%m-%d %H:%M}"


def _take_cards(book: Logbook, dumps: Iterable[CardDump], tell: Tell) -> None:
    from camsign.flows.intake.result import held_words, words_of
    from camsign.pixels.scores import set_aside

    tell("3. Cards in with ingest: every picture copied, read back, compared:")
    for dump in dumps:
        said = dump.camera if dump.named_by == "person" else None
        done = book.ingest(dump.path, camera=said)
        safe = "safe to wipe" if done.safe_to_wipe else f"NOT safe: {done.reasons[0]}"
        how = done.cards[0].known_by if done.cards else ""
        tell(f"     {dump.path.name:<12} {done.new:>4} frames  {dump.camera} ({how}): {safe}")
    with book.session() as session:
        counts = set_aside(session)
    for line in (words_of(counts, "frames"), *held_words(counts)):
        tell(f"     {line}")


def _put_clocks_right(book: Logbook, tell: Tell) -> None:
    from camsign.clock.audit import needs_attention

    found = book.audit_clocks(apply=True)
    wrong = [f for f in found if needs_attention(f)]
    tell(f"4. Clocks judged by the sun with clock audit: {len(found) - len(wrong)} raise no doubt.")
    for one in wrong:
        ahead = one.offset_minutes
        told = _span(ahead.value, ahead.low, ahead.high)
        tell(f"     {one.camera}: {one.verdict}, {told} minutes ahead; it was put right (--apply)")


def _take_notes(book: Logbook, season: Season, notes: FieldNotes, tell: Tell) -> None:
    for buck in season.bucks:
        traits = buck.note or None
        book.add_buck(
            buck.name, age=buck.age, age_basis=buck.basis, age_year=buck.age_year, traits=traits
        )
    tagged = book.import_tags(notes.tags)
    tell(f"5. {len(season.bucks)} bucks, and tags on {tagged.tagged} frames with tag import.")
    signs = [book.import_sign(path) for path in (notes.sign_csv, notes.sign_gpx)]
    areas = book.import_areas(notes.areas)
    new = sum(s.new for s in signs)
    tell(f"6. {new} signs with sign import, {areas.new} areas with area import.")


def _take_ground(book: Logbook, folder: Path, tell: Tell) -> None:
    from camsign.demo.stands import draw_stands, write_ground
    from camsign.sits.terrain import import_ground

    import_ground(book.folder, write_ground(folder))
    stands, ways = draw_stands(book)
    tell(f"7. The lie of the land with ground import; {stands} stands and {ways} ways in drawn.")


def _answer(book: Logbook, season: Season, tell: Tell) -> tuple[VisitRow, ...]:
    from camsign.answers.scope import scope_of
    from camsign.answers.visits import visits

    with book.session() as session:
        answer = visits(session, scope_of(session))
    mature = {b.name for b in season.bucks if b.age >= book.folder.settings.mature_age}
    tell("How often is each mature buck at each area, and in which light? (visits)")
    for row in [r for r in answer.rows if r.buck in mature and r.visits][:_MOST_ROWS]:
        tell(f"  {_in_words(row)}")
    for line in answer.why:
        tell(f"  {line}")
    best = max(
        (r for r in answer.rows if r.buck in mature and r.area),
        key=lambda r: r.day + r.gray,
        default=None,
    )
    if best is not None and best.area:
        _answer_when(book, best.buck, best.area, tell)
    _answer_beds(book, tell)
    _answer_compare(book, tell)
    _answer_near(book, tell)
    return answer.rows


def _in_words(row: VisitRow) -> str:
    rate, light = row.per_100_nights, row.shooting_light
    return (
        f"{row.buck} at {row.area}: {row.visits} visits on {row.nights_seen} of "
        f"{row.nights_watched} nights covered; {_percent(light.value, light.low, light.high)} "
        f"in shooting light; in the long run, since he stays away for spells, "
        f"{_span(rate.value, rate.low, rate.high)} visits per 100 nights"
    )


def _span(value: float | None, low: float | None, high: float | None) -> str:
    if value is None or low is None or high is None:
        return "not enough watch"
    return f"{value:.0f} ({low:.0f} to {high:.0f})"


def _percent(value: float | None, low: float | None, high: float | None) -> str:
    cells = [None if x is None else 100 * x for x in (value, low, high)]
    return f"{_span(*cells)} %"


def _answer_when(book: Logbook, buck: str, area: str, tell: Tell) -> None:
    from camsign.answers.scope import scope_of
    from camsign.answers.when import when

    with book.session() as session:
        answer = when(session, scope_of(session, [buck], [area]))
    tell("")
    tell(f"When is {buck} at {area}? (when)")
    for anchor, counts in (
        ("sunrise", answer.by_hour_from_sunrise),
        ("sunset", answer.by_hour_from_sunset),
    ):
        near = [c for c in counts if -3 <= c.hour < 3]
        told = ", ".join(f"{_hours(c.hour)}: {c.visits}" for c in near)
        tell(f"  visits by hours from {anchor}: {told}")
    for line in answer.why:
        tell(f"  {line}")


def _hours(hour: int) -> str:
    return f"{hour:+d} to {hour + 1:+d} h".replace("+0", "0").replace("-", "−")


def _answer_beds(book: Logbook, tell: Tell) -> None:
    from camsign.answers.bedding import bedding
    from camsign.answers.scope import scope_of
    from camsign.places.areas import areas

    tell("")
    tell("Which of them are beds, and whose? (bedding)")
    with book.session() as session:
        drawn = [a.area for a in areas(session) if a.kind == "bedding"]
        found = [bedding(session, scope_of(session, areas=[name])) for name in drawn]
    for one in found:
        tell(f"  {one.area}: {one.verdict.upper()} on {one.days_watched} days watched")
        for buck in [b for b in one.bucks if b.verdict in ("confirmed", "likely")][:2]:
            days = buck.days_bedded
            tell(f"    {buck.buck} {buck.verdict}: {_span(days.value, days.low, days.high)} days")
        for way in one.ways.evening[:1]:
            bearing = way.bearing_deg
            told = _span(bearing.value, bearing.low, bearing.high)
            tell(f"    out by evening past {way.camera}, going {told} degrees (n {way.n})")


def _answer_compare(book: Logbook, tell: Tell) -> None:
    from camsign.answers.compare import compare
    from camsign.answers.scope import scope_of

    tell("")
    tell("Where to sit? Visits of mature bucks in shooting light in 10 days (compare)")
    with book.session() as session:
        answer = compare(session, scope_of(session))
    for row in answer.rows:
        rate = row.shooting_light_visits_per_10_days
        cells = [f"{x:.1f}" if x is not None else "?" for x in (rate.value, rate.low, rate.high)]
        tied = f"; cannot be told from {', '.join(row.tied_with)}" if row.tied_with else ""
        tell(f"  {row.rank}. {row.area}: {cells[0]} ({cells[1]} to {cells[2]}){tied}")


def _answer_near(book: Logbook, tell: Tell) -> None:
    rows = book.near(kinds=["rub"])
    tell("")
    tell("Who was pictured near fresh rubs while they were made? (near --kind rub)")
    if rows.empty:
        tell("  nobody within reach of a rub")
        return
    counted = rows.groupby("buck").agg(rubs=("sign", "nunique"), frames=("frame", "nunique"))
    for buck, row in counted.sort_values("rubs", ascending=False).iterrows():
        tell(f"  {buck}: near {row['rubs']} rubs, in {row['frames']} frames")


def _answer_tonight(book: Logbook, tell: Tell) -> None:
    from camsign.sits.asked import typed_sky
    from camsign.sits.tonight import tonight

    tell("")
    tell("Where to sit on Nov 14, with a northwest wind of 6 mph? (tonight --wind NW --mph 6)")
    with book.session() as session:
        answer = tonight(session, SIT_DAY, typed_sky("NW", 6 * 0.44704, 0.5))
    tell(f"  {answer.verdict}")
    for row in answer.stands:
        told = row.any_chance.value or 0.0
        way = f", {row.way_in} {row.way_in_scent}" if row.way_in else ""
        tell(f"  {row.rank}. {row.stand}: {100 * told:.0f} %, scent {row.scent}{way}")


def _draw(book: Logbook, path: Path, season: Season, rows: Sequence[VisitRow]) -> Path:
    from camsign.answers.ground import ground
    from camsign.report.propertymap import draw_map

    with book.session() as session:
        there = ground(session)
    notes: dict[str, str] = {}
    for area in there.areas:
        mine = [r for r in rows if r.area_id == area.area_id and r.visits]
        top = max(mine, key=lambda r: r.visits, default=None)
        if top is not None:
            notes[area.area_id] = f"{top.buck}: {top.visits} visits, {top.nights_watched} nights"
    title = f"{season.name} (invented): cameras, sign and areas"
    return draw_map(there, path, title, notes)
