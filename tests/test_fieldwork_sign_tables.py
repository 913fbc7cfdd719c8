"""Sign from tables and waypoints: once, changed, refused row by row."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar
from unittest.mock import patch

import pytest

from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused
from camsign.flows.fieldwork.sign_tables import SignTaken, import_sign
from camsign.formats.table import write_csv
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.sign.heading import parse_heading
from camsign.sign.record import (
    SaidSighting,
    SignRow,
    add_sign,
    as_records,
    look_again,
    remove_sign,
    signs,
)

HERE = (44.2, -71.4)
T = TypeVar("T")


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return create(tmp_path / "hollow", "America/New_York", HERE, "imperial")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def take(folder: Folder, path: Path, **how: Any) -> SignTaken:
    return do(folder, lambda s: import_sign(s, path, **how))


def rows(folder: Folder) -> list[SignRow]:
    return do(folder, signs)


def write(path: Path, text: str, encoding: str = "utf-8") -> Path:
    path.write_bytes(text.encode(encoding))
    return path


def gpx(path: Path, *points: tuple[float, float, str, str, str]) -> Path:
    """A GPX written by gpxpy, not by camsign."""
    from gpxpy.gpx import GPX, GPXWaypoint

    document = GPX()
    for lat, lon, name, description, when in points:
        moment = datetime.fromisoformat(when).replace(tzinfo=UTC) if when else None
        document.waypoints.append(
            GPXWaypoint(
                lat, lon, 412.5, moment, name, description, comment=description, symbol="Flag"
            )
        )
    return write(path, document.to_xml())


def counts(taken: SignTaken) -> tuple[int, int, int, int]:
    return taken.new, taken.changed, taken.known, len(taken.refused)


def test_a_table_row_by_row(folder: Folder, tmp_path: Path) -> None:
    file = write(
        tmp_path / "sign.csv",
        "Kind,Latitude,Longitude,Date,Bare side,Tree,diameter_in,top,look\n"
        "rub,44.2001,-71.4001,2026-03-14,SW,alder,2,38in,clean\n"
        "rub,44.2001,-71.4001,2026-03-14,SW,alder,2,38in,clean\n"
        "bed,44.2002,-71.4,2026/3/14,,,,,\n"
        "rub,95,-71.4,2026-03-14,,,,,\n"
        "rub,44.2,-71.4,2026-02-30,,,,,\n"
        "nest,44.2,-71.4,2026-03-14,,,,,\n"
        "rub,0,0,2026-03-14,,,,,\n"
        "rub,-71.4,44.2,2026-03-14,,,,,\n"
        "rub,44.2,-71.4,,,,,,\n"
        "rub,44.2,-71.4,2026-03-14,,,,41m,\n"
        "rub,12.5,100.2,2026-03-14,,,,,\n"
        "rub,44.2,-71.4,2199-03-14,,,,,\n",
    )
    taken = take(folder, file)
    assert counts(taken) == (3, 0, 0, 9)
    assert [line.split(" left out")[0] for line in taken.refused] == [
        f"line {n}" for n in range(5, 14)
    ]
    for line, words in zip(
        taken.refused,
        ("latitude 95", "2026-02-30", "'nest'", "without a fix", "looks swapped", "no day",
         "top of a rub cannot be 41 m", "over 600 miles", "is in the future"),
        strict=True,
    ):  # fmt: skip
        assert words in line and "\n" not in line
    rub = next(row for row in rows(folder) if row.kind == "rub")
    assert (rub.travel_deg, rub.species, rub.state) == (45.0, "alder", "dry")
    assert rub.measures["diameter_m"] == pytest.approx(0.0508)
    assert len({row.sign for row in rows(folder)}) == 3, "two rows alike are two rubs"
    assert counts(take(folder, file)) == (0, 0, 3, 9)
    assert len(rows(folder)) == 3
    assert len((folder.journal / f"{folder.writer}.jsonl").read_bytes().splitlines()) == 1


def test_waypoints_take_their_own_day(folder: Folder, tmp_path: Path) -> None:
    file = gpx(
        tmp_path / "w.gpx",
        (44.2, -71.4, "rub 1", "alder 2in NE", "2025-10-05T01:30:00"),
        (44.2, -71.4, "rub 2", "alder by the spring", "2025-10-05T01:40:00"),
        (44.2, -71.4, "lunch", "", "2025-10-05T01:40:00"),
        (44.2, -71.4, "CAM03", "", "2025-10-05T01:40:00"),
        (44.2, -71.4, "rub 3", "", ""),
    )
    taken = take(folder, file)
    assert counts(taken) == (2, 0, 0, 3)
    # 01:30 UTC is the evening before in New York.
    assert {row.seen_on for row in rows(folder)} == {date(2025, 10, 4)}
    assert [row.note for row in rows(folder)] != [None, None]
    assert "by spring" in taken.notes[0]
    assert "names a kind" in taken.refused[0] and "camsign import" in taken.refused[1]
    assert "--on DAY" in taken.refused[2]
    assert counts(take(folder, file, on=date(2025, 10, 6))) == (1, 0, 2, 2)


def test_a_changed_waypoint_updates_and_a_removed_one_stays_away(
    folder: Folder, tmp_path: Path
) -> None:
    when = "2025-10-05T12:00:00"
    file = gpx(tmp_path / "w.gpx", (44.2, -71.4, "rub 1", "alder NE fresh", when),
               (44.2, -71.41, "rub 2", "", when))  # fmt: skip
    take(folder, file)
    by_note = {row.note: row.sign for row in rows(folder)}
    do(folder, lambda s: remove_sign(s, by_note["rub 2"]))
    assert counts(take(folder, file)) == (0, 0, 2, 0)
    (row,) = rows(folder)
    gpx(file, (44.2003, -71.4, "rub 1", "birch going S", when), (44.2, -71.41, "rub 2", "", when))
    assert counts(take(folder, file)) == (0, 1, 1, 0)
    (now,) = rows(folder)
    assert now.sign == row.sign and now.sighting == row.sighting
    assert (now.lat, now.species, now.travel_deg, now.state) == (44.2003, "birch", 180.0, None)


def test_two_friends_who_take_in_one_file_agree(tmp_path: Path) -> None:
    file = gpx(tmp_path / "w.gpx", (44.2, -71.4, "rub 1", "", "2025-10-05T12:00:00"))
    ids = []
    for name in ("one", "two"):
        folder = create(tmp_path / name, "America/New_York", HERE, "metric")
        take(folder, file)
        ids.append((rows(folder)[0].sign, rows(folder)[0].sighting))
    assert ids[0] == ids[1]


@pytest.mark.thorough
def test_what_the_log_writes_it_reads_back_as_known(folder: Folder, tmp_path: Path) -> None:
    def fill(session: Session) -> str:
        seen = SaidSighting(
            date(2025, 11, 3),
            "fresh",
            parse_heading("bare 123.4M"),
            measures={"top_m": 0.9, "snow_m": 0.2, "marks": ["nicks", "gouges"]},
            note="steaming",
        )
        rub = add_sign(session, "rub", HERE, seen, "alder", "by the spring").sign
        add_sign(
            session,
            "bed",
            HERE,
            SaidSighting(date(2026, 3, 1), measures={"hair": True, "aspect_deg": 170.0}),
        )
        add_sign(
            session,
            "rub",
            HERE,
            SaidSighting(date(2026, 3, 1), None, parse_heading("NE"), date(2025, 10, 1)),
        )
        return rub

    rub = do(folder, fill)
    do(folder, lambda s: look_again(s, rub, SaidSighting(date(2026, 3, 3), "dry")))
    file = tmp_path / "out.csv"
    before = rows(folder)
    with file.open("w", encoding="utf-8", newline="") as stream:
        write_csv(as_records(before), stream)
    assert counts(take(folder, file)) == (0, 0, 4, 0)
    assert rows(folder) == before
    other = create(tmp_path / "other", "America/New_York", HERE, "metric")
    assert counts(take(other, file)) == (4, 0, 0, 0)
    assert rows(other) == before


@pytest.mark.thorough
@pytest.mark.parametrize("encoding", ["utf-16", "cp1252", "utf-8-sig"])
def test_encodings_delimiters_and_decimal_commas(
    folder: Folder, tmp_path: Path, encoding: str
) -> None:
    text = "Art;Breite;Länge;Tag;Baum;diameter_cm\nrub;44,2001;-71,4001;2026-03-14;Weißbirke;5,5\n"
    file = write(tmp_path / "sign.csv", text, encoding)
    with pytest.raises(InputRefused, match="no sign that can be taken"):
        take(folder, file)
    columns = {"Art": "kind", "Breite": "lat", "Länge": "lon", "Tag": "seen_on", "Baum": "species"}
    assert take(folder, file, columns=columns).new == 1
    (row,) = rows(folder)
    assert (row.lat, row.lon, row.species) == (44.2001, -71.4001, "weißbirke")
    assert row.measures["diameter_m"] == pytest.approx(0.055)
    with pytest.raises(InputRefused, match="no column 'höhe'"):
        take(folder, file, columns={"Höhe": "top"})


def test_a_strange_column_is_told_once(folder: Folder, tmp_path: Path) -> None:
    file = write(tmp_path / "s.csv", "kind,lat,lon,seen_on,mood\nrub,44.2,-71.4,2026-03-14,good\n")
    assert take(folder, file).notes == ["columns that are not understood: mood"]


def test_far_away_is_taken_when_it_is_meant(folder: Folder, tmp_path: Path) -> None:
    file = write(tmp_path / "s.csv", "kind,lat,lon,seen_on\nrub,12.5,100.2,2026-03-14\n")
    with pytest.raises(InputRefused, match="over 600 miles"):
        take(folder, file)
    assert take(folder, file, anywhere=True).new == 1


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("a.gpx", "<?xml version='1.0'?><!DOCTYPE gpx [<!ENTITY a 'a'>]><gpx/>", "document type"),
        ("b.gpx", "<gpx >", "damaged GPX"),
        ("c.csv", "", "empty"),
        ("d.kml", "<?xml version='1.0'?><kml/>", "no sign that can be taken"),
        ("e.xml", "<?xml version='1.0'?><html/>", "no GPX, KML, GeoJSON, table or photo"),
        ("f.json", "{", "no JSON"),
    ],
)
def test_files_that_are_none(
    folder: Folder, tmp_path: Path, name: str, text: str, words: str
) -> None:
    with pytest.raises(InputRefused, match=words):
        take(folder, write(tmp_path / name, text))


def test_other_peoples_gpx_files(folder: Folder, samples: Path) -> None:
    """Whatever stands in real files, each gives lines for people and no traceback."""
    for path in sorted((samples / "geo" / "gpx").glob("*.gpx")):
        with patch("camsign.derive.opening.derive"), open_logbook(folder) as session:
            try:
                taken = import_sign(session, path, on=date(2026, 3, 14), anywhere=True)
            except InputRefused as e:
                assert "\n" not in str(e)
            else:
                assert all("\n" not in line for line in taken.refused)


def test_columns_beside_a_name_in_words_are_read(folder: Folder, tmp_path: Path) -> None:
    """Name, place and day are what phones write; the day was lost, and with it the row."""
    path = write(
        tmp_path / "phone.csv",
        "name,lat,lon,date,state,tree,travel,heading,diameter\n"
        "rub NE,44.21,-71.41,2025-10-01,Maine,alder,,181,3in\n"
        "rub,44.22,-71.41,10/5/2025,fresh,fir,SW,,\n"
        "rub,44.23,-71.41,2025-10-07,,,,181,\n"
        "rub S 2025-10-09,44.24,-71.41,2025-10-01,,,N,,\n"
        "rub,44.25,-71.41,13/10/2025,,,,,\n",
    )
    done = take(folder, path)
    assert ["line 6" in line and "13" in line for line in done.refused] == [True]
    found = sorted(rows(folder), key=lambda r: r.lat)
    assert [r.seen_on for r in found] == [date(2025, 10, d) for d in (1, 5, 7, 9)]
    assert [r.species for r in found] == ["alder", "fir", None, None]
    assert [r.state for r in found] == [None, "fresh", None, None]
    travels = [r.travel_deg for r in found]
    assert travels[2] is None  # a phone's own heading says nothing of a deer
    assert [round(t / 45) * 45 if t is not None else None for t in travels] == [45, 225, None, 180]
    assert found[0].measures["diameter_m"] == pytest.approx(0.0762)


def test_what_stands_beside_a_name_in_words_is_kept(folder: Folder, tmp_path: Path) -> None:
    """`import` said that it was kept as a note, and it was not."""
    text = "name,lat,lon,date,note\nrub NE,44.21,-71.41,2025-10-01,by the big yellow birch\n"
    take(folder, write(tmp_path / "phone.csv", text))
    (found,) = rows(folder)
    assert found.note == "rub NE by the big yellow birch"
