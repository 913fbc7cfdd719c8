"""The whole job on the made-up season, with the functions that a user's commands call."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np

from camsign.answers.ground import ground
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.api import Logbook, start_logbook
from camsign.arrays import Floats
from camsign.clock.audit import needs_attention
from camsign.clock.verdicts import spoken_offset, verdict_words
from camsign.demo.dumps import CardDump, write_dumps
from camsign.demo.land import DATA, MIDDLE, ORIGIN, moved, place
from camsign.demo.notes import FieldNotes, write_field_notes
from camsign.demo.season import Season, make_season
from camsign.errors import InputRefused
from camsign.flows.intake.result import sorted_words
from camsign.formats.elevation import Elevation, elevation_bytes
from camsign.ground.grid import Grid
from camsign.pixels.scores import set_aside
from camsign.places.points import add_place
from camsign.report.gathered import property_map
from camsign.report.style import save
from camsign.sits.journal import add_sit
from camsign.sits.terrain import import_ground
from camsign.units import counted

Tell = Callable[[str], None]
SEED = 7
# What is asked of the logbook at the end, as a user types it.
ASKS = (
    ("tonight", "--on", "2025-11-14", "--wind", "NW", "--mph", "6"),
    ("bedding", "Brindle Knob"),
    ("where", "Old Quarrel"),
    ("visits", "--buck", "Old Quarrel"),
    ("compare",),
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
    tell(f"{season.name} is made up, and so are its bucks.")
    dumps = write_dumps(season, folder)
    notes = write_field_notes(season, folder)
    tell(f"1. {_cards_in_words(season, len(dumps))} ({folder / 'cards'}).")
    book = _start(season, folder / "logbook", tell)
    _take_cards(book, dumps, tell)
    _put_clocks_right(book, tell)
    _take_notes(book, season, notes, tell)
    import_ground(book.folder, write_ground(folder))
    drawn = draw_stands(book)
    tell(f"7. Terrain, {drawn['stand']} stands, {drawn['way in']} ways in, and"
         f" {counted(note_sits(book), 'sit')} saved.")  # fmt: skip
    chart = book.chart(CHART, folder / f"{CHART}.png", AREA, BUCK)
    return DemoMade(book.folder.root, _draw(book, folder / "map.png", season), chart)


def _cards_in_words(season: Season, cards: int) -> str:
    """Say how many cards of how many cameras, and of which days: `Aug 10 to Dec 5, 2025`."""
    zone = ZoneInfo(season.tz)
    first = min(hung.hung for hung in season.deployments).astimezone(zone)
    last = max(hung.until for hung in season.deployments).astimezone(zone)
    days = f"{first:%b} {first.day} to {last:%b} {last.day}, {last.year}"
    return (
        f"{cards} cards from {len({h.camera.camera for h in season.deployments})} cameras, {days}"
    )


def _start(season: Season, root: Path, tell: Tell) -> Logbook:
    book = start_logbook(root, home=f"{season.home[0]},{season.home[1]}", units="imperial")
    for hung in season.deployments:
        lat, lon = place(hung.at)
        times = [utc.astimezone(ZoneInfo(season.tz)) for utc in (hung.hung, hung.until)]
        start, until = (f"{when:%Y-%m-%d %H:%M}" for when in times)
        facing = f"{hung.facing_deg % 360:g}T"
        book.hang(hung.camera.camera, f"{lat},{lon}", start, until=until, facing=facing)
    tell("2. Logbook started, 6 cameras hung, one of them moved in October.")
    return book


def _take_cards(book: Logbook, dumps: Iterable[CardDump], tell: Tell) -> None:
    safe = total = 0
    for dump in dumps:
        done = book.ingest(dump.path, camera=dump.camera if dump.named_by == "person" else None)
        safe, total = safe + done.safe_to_wipe, total + 1
        if not done.safe_to_wipe:
            tell(f"     {dump.path.name}: NOT safe to wipe: {done.reasons[0]}")
    tell(f"3. {safe} of {total} cards copied, checked, safe to wipe.")
    with book.session() as session:
        counts = set_aside(session)
    tell(f"   {sorted_words(counts)}")


def _put_clocks_right(book: Logbook, tell: Tell) -> None:
    found = book.audit_clocks(apply=True)
    wrong = [f for f in found if needs_attention(f)]
    told = verdict_words([f.verdict for f in found], len(wrong))
    each = f"{len(found)} stretches (a new one at each hang or clock reset)"
    tell(f"4. Clocks checked against daylight, {each}: {told}.")
    for one in wrong:
        ahead, many = spoken_offset(one.offset_minutes), counted(one.frames, "picture")
        tell(f"   {one.camera}'s clock was {ahead}; fixed for its {many}.")


def _take_notes(book: Logbook, season: Season, notes: FieldNotes, tell: Tell) -> None:
    for buck in season.bucks:
        age = {"age": buck.age, "age_basis": buck.basis, "age_year": buck.age_year}
        book.add_buck(buck.name, **age, traits=buck.note or None)
    tagged = book.import_tags(notes.tags)
    tell(f"5. {len(season.bucks)} bucks; {counted(tagged.tagged, 'picture')} tagged.")
    new = sum(book.import_sign(path).new for path in (notes.sign_csv, notes.sign_gpx))
    drawn = book.import_areas(notes.areas)
    tell(f"6. {new} pieces of sign, {drawn.new} areas.")


def _draw(book: Logbook, path: Path, season: Season) -> Path:
    notes: dict[str, str] = {}
    title = f"{season.name} (made up): cameras, sign and areas"
    with book.session() as session:
        there, rows = ground(session), visits(session, scope_of(session)).rows
        for area in there.areas:
            mine = [r for r in rows if r.area_id == area.area_id and r.visits]
            if top := max(mine, key=lambda r: r.visits, default=None):
                told = f"{top.visits} visits, {top.nights_watched} nights"
                notes[area.area_id] = f"{top.buck}: {told}"
        drawn = property_map(session, there, title, notes=lambda _: notes, day=_END)
    return save(drawn, path)


_CELL_M, _REACH_M = 10.0, 4500.0


def heights(x: Floats, y: Floats) -> Floats:
    """Height of the ground [m] at places in meters east and north of the property's origin."""
    total: Floats = np.full(np.broadcast(x, y).shape, DATA["ground"]["height"])
    for tall, wide, east, north in DATA["ground"]["hills"]:
        total = total + tall * np.exp(-((x - east) ** 2 + (y - north) ** 2) / (2 * wide**2))
    lie: Floats = total + 6 * np.sin(x / 170) * np.cos(y / 230)
    return lie


def write_ground(folder: Path) -> Path:
    """Write folder/notes/ground.tif. Raises OSError if the folder cannot be written."""
    middle = np.arange(-_REACH_M, _REACH_M, _CELL_M) + _CELL_M / 2
    grid = Grid(heights(middle[None, :], middle[::-1, None]), -_REACH_M, _REACH_M, _CELL_M)
    path = folder / "notes" / "ground.tif"
    path.write_bytes(elevation_bytes(Elevation(grid, *ORIGIN, _CELL_M, 0.0)))
    return path


def draw_stands(book: Logbook) -> Counter[str]:
    """Draw stands and ways in into a logbook; give how many of each kind."""
    with book.session() as session:
        for row in DATA["drawn"]:
            points = [place(moved(MIDDLE[row["from"]], *step)) for step in row["at"]]
            add_place(session, row["kind"], row["name"], tuple(points))
    return Counter(row["kind"] for row in DATA["drawn"])


def note_sits(book: Logbook) -> int:
    """Put the season's sits into the journal; give how many."""
    for row in DATA["sits"]:
        with book.session() as session:
            add_sit(session, **row)
    return len(DATA["sits"])
