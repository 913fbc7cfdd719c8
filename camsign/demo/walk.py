"""The whole job on the made-up season, with the functions that a user's commands call."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from camsign.answers.ground import ground
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.api import Logbook, start_logbook
from camsign.cards.listing import known_in_words
from camsign.clock.audit import needs_attention
from camsign.clock.verdicts import counted_verdicts
from camsign.demo.dumps import CardDump, write_dumps
from camsign.demo.land import place
from camsign.demo.notes import FieldNotes, write_field_notes
from camsign.demo.season import Season, make_season
from camsign.demo.stands import draw_stands, note_sits, write_ground
from camsign.errors import InputRefused
from camsign.flows.intake.result import held_words, words_of
from camsign.pixels.scores import set_aside
from camsign.report.gathered import worked_out
from camsign.report.propertymap import draw_map
from camsign.sits.terrain import import_ground, terrain_of

Tell = Callable[[str], None]
SEED = 7
# What is asked of the logbook at the end, as a user types it.
ASKS = (
    ("visits", "--buck", "Old Quarrel"),
    ("bedding", "Brindle Knob"),
    ("where", "Old Quarrel"),
    ("compare",),
    ("tonight", "--on", "2025-11-14", "--wind", "NW", "--mph", "6"),
)
# The chart that it leaves behind.
CHART: Final = "calendar"
AREA, BUCK = "Brindle Knob", "Old Quarrel"
# When the season is over, and a compass is read for the map.
_END = date(2025, 12, 5)
# One camera was set an hour ahead, so that there is a wrong clock to be found [s].
CLOCK_ERRORS = {"CAM03": 3600}


@dataclass(frozen=True, slots=True)
class DemoMade:
    """What the demo leaves behind: the logbook, its map and a chart."""

    logbook: Path
    map: Path
    chart: Path


def walk(folder: Path, tell: Tell, seed: int = SEED) -> DemoMade:
    """Make the season, take it in, draw a map and a chart; the questions are left to the commands.

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
    tell(f"{season.name} is made up, and so are its bucks. One season there, from card to answer.")
    tell("")
    dumps = write_dumps(season, folder)
    notes = write_field_notes(season, folder)
    tell(f"1. Five months of hunting filled {len(dumps)} memory cards ({folder / 'cards'}).")
    book = _start(season, folder / "logbook", tell)
    _take_cards(book, dumps, tell)
    _put_clocks_right(book, tell)
    _take_notes(book, season, notes, tell)
    import_ground(book.folder, write_ground(folder))
    drawn = draw_stands(book)
    tell(f"7. The lay of the land with ground import; {drawn['stand']} stands and"
         f" {drawn['way in']} ways in drawn; {note_sits(book)} evening on stand in the journal"
         " with sit add.")  # fmt: skip
    chart = book.chart(CHART, folder / f"{CHART}.png", AREA, BUCK)
    return DemoMade(book.folder.root, _draw(book, folder / "map.png", season), chart)


def _start(season: Season, root: Path, tell: Tell) -> Logbook:
    book = start_logbook(root, home=f"{season.home[0]},{season.home[1]}", units="imperial")
    for hung in season.deployments:
        lat, lon = place(hung.at)
        times = [utc.astimezone(ZoneInfo(season.tz)) for utc in (hung.hung, hung.until)]
        start, until = (f"{when:%Y-%m-%d %H:%M}" for when in times)
        facing = f"{hung.facing_deg % 360:g}T"
        book.hang(hung.camera.camera, f"{lat},{lon}", start, until=until, facing=facing)
    tell("2. A logbook, and 6 cameras hung with hang, one of them moved once.")
    return book


def _take_cards(book: Logbook, dumps: Iterable[CardDump], tell: Tell) -> None:
    tell("3. Cards in with ingest: every picture copied, read back, compared:")
    for dump in dumps:
        done = book.ingest(dump.path, camera=dump.camera if dump.named_by == "person" else None)
        safe = "safe to wipe" if done.safe_to_wipe else f"NOT safe: {done.reasons[0]}"
        how = known_in_words(done.cards[0].known_by) if done.cards else ""
        tell(f"     {dump.path.name:<12} {done.new:>4} frames  {dump.camera} ({how}): {safe}")
    with book.session() as session:
        counts = set_aside(session)
    for line in (words_of(counts, "frames"), *held_words(counts)):
        tell(f"     {line}")


def _put_clocks_right(book: Logbook, tell: Tell) -> None:
    found = book.audit_clocks(apply=True)
    wrong = [f for f in found if needs_attention(f)]
    told = counted_verdicts([f.verdict for f in found])
    tell(f"4. Clocks judged by the sun with clock audit: {told}.")
    for one in wrong:
        ahead = one.offset_minutes.value or 0
        tell(f"     {one.camera}: {one.verdict}, {ahead:.0f} minutes ahead; fixed by --apply")


def _take_notes(book: Logbook, season: Season, notes: FieldNotes, tell: Tell) -> None:
    for buck in season.bucks:
        age = {"age": buck.age, "age_basis": buck.basis, "age_year": buck.age_year}
        book.add_buck(buck.name, **age, traits=buck.note or None)
    tagged = book.import_tags(notes.tags)
    tell(f"5. {len(season.bucks)} bucks, and tags on {tagged.tagged} frames with tag import.")
    new = sum(book.import_sign(path).new for path in (notes.sign_csv, notes.sign_gpx))
    drawn = book.import_areas(notes.areas)
    tell(f"6. {new} pieces of sign with sign import, {drawn.new} areas with area import.")


def _draw(book: Logbook, path: Path, season: Season) -> Path:
    with book.session() as session:
        there, rows = ground(session), visits(session, scope_of(session)).rows
        land, found = terrain_of(session.folder), worked_out(session)
    notes: dict[str, str] = {}
    for area in there.areas:
        mine = [r for r in rows if r.area_id == area.area_id and r.visits]
        top = max(mine, key=lambda r: r.visits, default=None)
        if top is not None:
            notes[area.area_id] = f"{top.buck}: {top.visits} visits, {top.nights_watched} nights"
    title = f"{season.name} (made up): cameras, sign and areas"
    return draw_map(there, path, title, notes, land, _END, found)
