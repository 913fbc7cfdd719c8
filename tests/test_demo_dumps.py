"""The invented season on disk: cards as they were copied, and what the owner wrote down."""

from __future__ import annotations

import hashlib
import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import gpxpy
import pandas as pd
import pytest
from shapely.geometry import Point, shape

from camsign.demo.dumps import CardDump, write_dumps
from camsign.demo.notes import FieldNotes, write_field_notes
from camsign.demo.season import Season, make_season
from camsign.errors import UsageError
from camsign.units import parse_bearing


@pytest.fixture(scope="module")
def season() -> Season:
    """The season cut down to a few dozen frames of two cameras."""
    whole = make_season()
    kept = [
        one for key in ("CAM05-1-1", "CAM05-1-2", "CAM06-1-1") for one in whole.of_card(key)[:18]
    ]
    return replace(whole, frames=tuple(kept))


@pytest.fixture(scope="module")
def written(
    season: Season, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, list[CardDump]]:
    folder = tmp_path_factory.mktemp("demo")
    return folder, write_dumps(season, folder)


@pytest.fixture(scope="module")
def notes(season: Season, written: tuple[Path, list[CardDump]]) -> FieldNotes:
    return write_field_notes(season, written[0])


@pytest.mark.thorough
def test_every_frame_is_on_its_card(season: Season, written: tuple[Path, list[CardDump]]) -> None:
    folder, dumps = written
    assert len(dumps) == len(season.cards)
    by_path = {dump.path.relative_to(folder).as_posix(): dump for dump in dumps}
    for card in season.cards:
        dump = by_path[f"cards/{card.folder}"]
        assert (dump.camera, dump.deployment, dump.named_by) == (
            card.camera,
            card.deployment,
            card.named_by,
        )
        files = sorted(p.relative_to(dump.path).as_posix() for p in dump.path.rglob("*.JPG"))
        assert files == sorted(one.file for one in season.of_card(card.key))
        assert dump.frames == len(files)


@pytest.mark.thorough
def test_equal_names_hold_different_pictures(written: tuple[Path, list[CardDump]]) -> None:
    first = [dump.path / "DCIM" / "100MEDIA" / "IMG_0001.JPG" for dump in written[1] if dump.frames]
    assert len(first) == 3
    assert len({hashlib.sha256(path.read_bytes()).hexdigest() for path in first}) == 3


def test_file_times_are_the_cameras_clock(
    season: Season, written: tuple[Path, list[CardDump]]
) -> None:
    frame = season.frames[0]
    card = next(one for one in season.cards if one.key == frame.card)
    path = written[0] / "cards" / card.folder / frame.file
    clock = frame.shown.replace(tzinfo=ZoneInfo(season.tz)).timestamp()
    assert path.stat().st_mtime == pytest.approx(clock, abs=2)  # FAT keeps two seconds


def test_another_executor_writes_the_same_bytes(
    season: Season, written: tuple[Path, list[CardDump]], tmp_path: Path
) -> None:
    few = replace(season, frames=season.frames[:4])
    with ThreadPoolExecutor(1) as executor:
        write_dumps(few, tmp_path, executor)
        executor.submit(int)  # it is left open for its owner
    for path in tmp_path.rglob("*.JPG"):
        assert path.read_bytes() == (written[0] / path.relative_to(tmp_path)).read_bytes()


def test_tags_name_frames_by_the_hash_of_their_bytes(
    season: Season, written: tuple[Path, list[CardDump]], notes: FieldNotes
) -> None:
    ids = {
        hashlib.sha256(path.read_bytes()).hexdigest()[:16]: path
        for path in written[0].rglob("*.JPG")
    }
    tags = pd.read_csv(notes.tags, dtype=str, keep_default_na=False)
    assert list(tags.columns) == ["frame", "what", "buck", "count", "travel"]
    assert set(tags.frame) <= set(ids)
    truth = {}
    for frame in season.frames:
        card = next(one for one in season.cards if one.key == frame.card)
        truth[written[0] / "cards" / card.folder / frame.file] = frame
    for row in tags.itertuples():
        there = truth[ids[row.frame]].subjects
        if row.buck:
            same = [one for one in there if one.buck == row.buck]
            assert len(same) == int(row.count_ if hasattr(row, "count_") else row[4]) == 1
            if row.travel:
                off = parse_bearing(row.travel).deg - same[0].travel_deg
                assert abs((off + 180) % 360 - 180) <= 2.5
        elif row.what in ("doe", "fawn"):
            assert sum(one.what == row.what for one in there) == int(row[4])


def test_most_deer_are_tagged_and_some_are_not_known() -> None:
    # On the whole season, with the hashing replaced: the shares do not depend on the bytes.
    season = make_season()
    rows = list(_tag_rows_of(season))
    deer = {
        f.index for f in season.frames if {s.what for s in f.subjects} & {"buck", "doe", "fawn"}
    }
    said = {int(row["frame"]) for row in rows}
    tagged = said & deer
    others = {f.index for f in season.frames} - deer
    assert others <= said
    assert {int(row["frame"]) for row in rows if row["what"] == "nothing"} <= others
    assert 0.90 < len(tagged) / len(deer) < 0.99
    assert any(row["what"] == "unknown" for row in rows)
    assert any(row["what"] == "buck" and not row["buck"] for row in rows)
    assert {row["buck"] for row in rows} == {"", *(buck.name for buck in season.bucks)}


def _tag_rows_of(season: Season) -> list[dict[str, object]]:
    from camsign.demo import notes as module

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "_frame_id", lambda path, frame: str(frame.index))
        return list(module._tag_rows(season, Path("nowhere")))


def test_sign_stands_in_the_table_or_on_the_handheld(season: Season, notes: FieldNotes) -> None:
    table = pd.read_csv(notes.sign_csv, keep_default_na=False)
    assert list(table.columns[:5]) == ["kind", "lat", "lon", "seen_on", "travel_deg"]
    with notes.sign_gpx.open(encoding="utf-8") as stream:
        points = gpxpy.parse(stream).waypoints
    assert len(table) + len(points) == 80
    assert min(len(table), len(points)) >= 20
    spots = {(round(one.lat, 6), round(one.lon, 6)) for one in season.signs}
    assert {(round(p.latitude, 6), round(p.longitude, 6)) for p in points} <= spots
    assert set(zip(table.lat.round(6), table.lon.round(6), strict=True)) <= spots
    assert {p.name.split()[0] for p in points} >= {"rub", "scrape", "bed"}
    assert all(p.time is not None for p in points)


def test_the_handhelds_file_holds_cameras_and_all_sign(season: Season, notes: FieldNotes) -> None:
    with notes.handheld.open(encoding="utf-8") as stream:
        points = gpxpy.parse(stream).waypoints
    hung = [p for p in points if p.name.startswith("CAM")]
    assert [p.time for p in hung] == [d.hung for d in season.deployments]
    assert len(points) - len(hung) == len(season.signs)


def test_areas_are_valid_polygons_around_their_sign(season: Season, notes: FieldNotes) -> None:
    found = json.loads(notes.areas.read_text(encoding="utf-8"))
    areas = {one["properties"]["name"]: shape(one["geometry"]) for one in found["features"]}
    assert {one["properties"]["kind"] for one in found["features"]} == {"bedding", "feeding"}
    for area in areas.values():
        assert area.is_valid
        assert area.exterior.is_ccw  # RFC 7946, 3.1.6
    beds = [one for one in season.signs if one.kind == "bed"]
    assert all(areas[one.near].contains(Point(one.lon, one.lat)) for one in beds)


def test_notes_without_cards_are_refused(season: Season, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="write the cards first"):
        write_field_notes(season, tmp_path)
