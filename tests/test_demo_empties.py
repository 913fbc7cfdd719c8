"""How many frames the demo's ingest says are likely empty, against the demo's own truth."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from derive_world import rows

from camsign.api import Logbook, start_logbook
from camsign.cli.app import run
from camsign.demo.dumps import write_dumps
from camsign.demo.season import Season, make_season
from camsign.demo.walk import ASKS, CLOCK_ERRORS, SEED, walk
from camsign.logbook.folder import Folder
from camsign.pixels.scores import THRESHOLDS


def truth(season: Season) -> Mapping[tuple[str, str, str], bool]:
    """Whether anybody is in a picture, by its camera, its file and what its clock showed."""
    return {(f.camera, f.file, f.shown.isoformat()): bool(f.subjects) for f in season.frames}


def judged(book: Logbook, season: Season) -> list[tuple[bool, bool]]:
    """Of each frame: is anybody there, and was it set aside before any tag."""
    known = truth(season)
    found = rows(
        book.folder,
        "SELECT t.camera, f.card_path, f.shown[:19], l.light, c.news FROM frames f"
        " JOIN frame_times t USING (frame) JOIN looks l USING (frame) LEFT JOIN changes c"
        " USING (frame)",
    )
    return [
        (known[camera, file, shown], news is not None and news < THRESHOLDS[light])
        for camera, file, shown, light, news in found
    ]


def shares(found: list[tuple[bool, bool]]) -> tuple[float, float]:
    """The share of frames with somebody that is kept, and of empty ones that is set aside."""
    kept = [not aside for there, aside in found if there]
    empty = [aside for there, aside in found if not there]
    return sum(kept) / len(kept), sum(empty) / len(empty)


@pytest.mark.thorough
def test_one_cards_ingest_says_how_many_are_likely_empty_and_is_right(tmp_path: Path) -> None:
    whole = make_season(SEED)
    kept = whole.of_card("CAM03-1-1")[:30]
    season = replace(whole, frames=tuple(kept))
    dump = next(d for d in write_dumps(season, tmp_path) if d.frames)
    book = start_logbook(tmp_path / "book", home="44.6,-71.2")
    done = book.ingest(dump.path, camera="CAM03")
    (aside,) = done.set_aside
    found = judged(book, season)
    assert aside.frames == len(found) == 30
    assert aside.likely_empty + aside.look_first == sum(a for _, a in found)
    there, empty = shares(found)
    assert there == 1
    assert empty >= 0.15  # whole bursts alone go, and thirty frames are few to compare with


@pytest.mark.long
def test_the_demo_says_how_many_are_likely_empty_and_is_right(tmp_path: Path) -> None:
    season, found = make_season(SEED, CLOCK_ERRORS), []

    def tell(line: str) -> None:
        said = re.match(r"\s+([\d,]+) pictures: (\d+) set aside as likely empty", line)
        if said:
            found.append(judged(Logbook(Folder(tmp_path / "demo" / "logbook")), season))
            empty = sum(not there for there, _ in found[0])
            assert 0.2 * empty <= int(said[2]) <= sum(aside for _, aside in found[0])
            assert int(said[1].replace(",", "")) == len(season.frames) == len(found[0])

    shown = walk(tmp_path / "demo", tell)
    assert {p.read_bytes()[:4] for p in (shown.map, shown.chart)} == {b"\x89PNG"}
    for words in ASKS:
        assert run(["--logbook", str(shown.logbook), *words]) == 0, words
    there, empty = shares(found[0])
    assert there >= 0.99
    assert empty >= 0.35  # whole bursts alone go
