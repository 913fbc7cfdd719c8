"""Tables, a standard's data package and pictures leave a logbook, and others' readers open them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import duckdb
import pandas as pd
import pytest
from made_cards import card
from pyarrow.parquet import read_table

from camsign.answers.ask import VIEWS, ask
from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError
from camsign.flows.handover.camtrap import write_camtrap
from camsign.flows.handover.pictures import drawn_anew, write_pictures
from camsign.flows.handover.rounded import rounded
from camsign.flows.handover.tables import ALL, write_tables
from camsign.flows.intake import ingest
from camsign.logbook.edits import TagFrames
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.places.areas import add_area
from camsign.places.deployments import hang
from camsign.places.points import add_place
from camsign.sign.record import SaidSighting, add_sign
from camsign.sits.journal import add_sit
from camsign.tags.bucks import add_buck, set_buck
from camsign.tags.buckstable import import_bucks
from camsign.tags.importing import import_tags
from camsign.tags.tagging import subject_of
from camsign.units import Bearing, parse_when

T = TypeVar("T")
AT = (44.20501, -71.40502)
FORMULA = '=HYPERLINK("http://x.example","him")'


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def _hang(s: Session) -> None:
    hang(s, "CAM07", AT, parse_when("2025-09-01"), facing=Bearing(359.7, "true"))
    hang(s, "CAM08", (44.21, -71.41), parse_when("2025-09-01"), parse_when("2025-11-30"))
    add_area(s, "bedding", "Brindle Knob", AT, 60.0)
    add_sign(s, "rub", AT, SaidSighting(date(2025, 10, 5)))
    add_place(s, "stand", "Ledge Pine", [(44.206, -71.406)])
    add_buck(s, FORMULA)


def _tag(s: Session) -> None:
    set_buck(s, FORMULA, age=5.5, age_basis="+body", age_year=2025)
    frames = [f for (f,) in s.con.execute("SELECT frame FROM frames ORDER BY shown").fetchall()]
    add_sit(s, "Ledge Pine", date(2025, 11, 7), "3-dark", saw="2 does 40yd")
    s.say("tagged", [
        TagFrames(subject_of(s, FORMULA), frames[:1], travel_deg=45.0),
        TagFrames(subject_of(s, "doe"), frames[:1], 2),
        TagFrames(subject_of(s, "nothing"), frames[1:2], 0),
        TagFrames(subject_of(s, "hunter"), frames[2:3]),
    ])  # fmt: skip


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    root = tmp_path_factory.mktemp("handover")
    folder = create(root / "hollow", "America/New_York", (44.2, -71.4), "imperial")
    do(folder, _hang)
    ingest(folder, [card(root / "card", 5)], camera="CAM07")
    do(folder, _tag)
    return folder


@pytest.mark.thorough
@pytest.mark.parametrize("form", ["parquet", "csv"])
def test_every_view_and_table_is_read_by_others_as_it_stands(
    book: Folder, tmp_path: Path, form: str
) -> None:
    done = do(book, lambda s: write_tables(s, tmp_path, form, exact=True))
    assert [p.name for p in done.written] == [f"{name}.{form}" for name in ALL]
    own = {
        v: do(book, lambda s, v=v: ask(s, f"SELECT count(*) FROM {v}").rows[0][0]) for v in VIEWS
    }
    for path in done.written:
        there = read_table(path).num_rows if form == "parquet" else len(pd.read_csv(path))
        assert there == own.get(path.stem, there)
        assert there, path.name
    if form == "parquet":
        schema = read_table(tmp_path / "detections.parquet").schema
        assert {n: str(schema.field(n).type) for n in ("utc", "local", "day")} == {
            "utc": "timestamp[us, tz=UTC]", "local": "timestamp[us]", "day": "date32[day]",
        }  # fmt: skip
    detections = duckdb.sql(f"FROM '{tmp_path / f'detections.{form}'}'")
    kinds = dict(zip(detections.columns, map(str, detections.types), strict=True))
    assert kinds["utc"] == "TIMESTAMP WITH TIME ZONE"
    assert kinds["local"] == "TIMESTAMP"


@pytest.mark.thorough
def test_no_cell_of_a_table_is_a_formula_and_the_tables_come_back(
    book: Folder, tmp_path: Path
) -> None:
    do(book, lambda s: write_tables(s, tmp_path, "csv"))
    cells = [
        text
        for path in tmp_path.glob("*.csv")
        for row in csv.reader(io.StringIO(path.read_text("utf-8")))
        for text in row
    ]
    loose = [t for t in cells if t[:1] in ("=", "+", "-", "@", "\t", "\r") and not _number(t)]
    assert not loose
    assert f"'{FORMULA}" in cells
    bucks = do(book, lambda s: import_bucks(s, tmp_path / "bucks.csv"))
    assert (bucks.new, bucks.changed, bucks.known, bucks.refused) == (0, 0, 1, [])
    before = book.journal.joinpath(f"{book.writer}.jsonl").read_bytes()
    assert do(book, lambda s: import_tags(s, tmp_path / "tags.csv")).skipped == []
    assert book.journal.joinpath(f"{book.writer}.jsonl").read_bytes() == before


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def test_a_table_says_only_the_square_kilometer_unless_asked(book: Folder, tmp_path: Path) -> None:
    do(book, lambda s: write_tables(s, tmp_path, "parquet"))
    read = duckdb.sql(f"SELECT lat, lon FROM '{tmp_path / 'deployments.parquet'}' ORDER BY lat")
    assert read.fetchall() == [rounded(*AT), rounded(44.21, -71.41)]
    assert duckdb.sql(f"SELECT DISTINCT shape FROM '{tmp_path / 'areas.parquet'}'").fetchall() == [
        (None,)
    ]
    said = duckdb.sql(
        f"SELECT decode(value) FROM parquet_kv_metadata('{tmp_path / 'sign.parquet'}')"
    ).fetchall()
    assert said == [("rounded to 1000 m",)]


def test_an_unknown_table_or_form_is_refused(book: Folder, tmp_path: Path) -> None:
    for form, names in (("xlsx", ALL), ("csv", ("bears",))):
        with pytest.raises(UsageError):
            do(book, lambda s, f=form, n=names: write_tables(s, tmp_path / "t", f, n))
    assert not (tmp_path / "t").exists()


@pytest.mark.parametrize("exact", [False, True])
def test_the_data_package_is_valid_camtrap_dp(
    book: Folder, tmp_path: Path, samples: Path, exact: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Camtrap DP 1.0.2: its own table schemas and profile, judged by frictionless."""
    frictionless = pytest.importorskip("frictionless")
    standard = samples / "standards" / "camtrap-dp"
    done = do(book, lambda s: write_camtrap(s, tmp_path / "dp", exact))
    assert dict(done.rows) == {"deployments": 2, "media": 5, "observations": 6}
    about = json.loads((tmp_path / "dp" / "datapackage.json").read_text("utf-8"))
    _fits_profile(about, samples)
    for resource in about["resources"]:
        name = resource["schema"].rpartition("/")[2]
        resource["schema"] = json.loads((standard / name).read_text("utf-8"))
        resource.pop("profile")
    about.pop("profile")
    (tmp_path / "dp" / "local.json").write_text(json.dumps(about), "utf-8")
    monkeypatch.chdir(tmp_path / "dp")  # a path with # or [ is another thing to it
    report = frictionless.validate("local.json")
    assert report.flatten(["rowNumber", "fieldName", "type", "note"]) == []
    assert report.stats["tasks"] == 3
    first = next(csv.DictReader((tmp_path / "dp" / "deployments.csv").open(encoding="utf-8")))
    place = (float(first["latitude"]), float(first["longitude"]))
    assert place == (AT if exact else rounded(*AT))
    assert first["coordinateUncertainty"] == ("" if exact else "708")
    assert first["cameraHeading"] == "0"


def _fits_profile(about: dict[str, Any], samples: Path) -> None:
    import jsonschema

    profile = json.loads((samples / "standards/camtrap-dp/camtrap-dp-profile.json").read_text())
    general = json.loads(
        (samples / "standards/frictionless-specs/profiles/target/1.0/datapackage.json").read_text()
    )
    # The general profile and GeoJSON's schema are referred to by their addresses: no network here.
    own = json.loads(json.dumps(profile["allOf"][1]))
    own["$defs"] = profile["$defs"]
    own["properties"]["spatial"].pop("$ref")
    assert list(jsonschema.Draft4Validator(own).iter_errors(about)) == []
    general.pop("$schema", None)
    assert list(jsonschema.Draft4Validator(general).iter_errors(about)) == []


def test_pictures_nobody_sorted_are_unclassified_and_not_blank(
    book: Folder, tmp_path: Path
) -> None:
    do(book, lambda s: write_camtrap(s, tmp_path))
    seen = pd.read_csv(tmp_path / "observations.csv")
    assert sorted(seen["observationType"]) == [
        "animal", "animal", "blank", "human", "unclassified", "unclassified",
    ]  # fmt: skip
    him = seen[seen["individualID"].notna()].iloc[0]
    assert (him["sex"], him["count"], him["scientificName"]) == ("male", 1, "Odocoileus")
    assert him["individualID"] == f"'{FORMULA}"
    assert seen["eventID"].nunique() < len(seen)
    assert seen[seen["observationType"] == "unclassified"]["classificationMethod"].isna().all()


def test_best_pictures_hold_no_place_and_no_camera(book: Folder, tmp_path: Path) -> None:
    from PIL import Image

    told: list[tuple[int, int]] = []
    done = do(
        book,
        lambda s: write_pictures(
            s, FORMULA, tmp_path / "him", progress=lambda *of: told.append(of)
        ),
    )
    assert len(done.written) == 1 and told == [(1, 1)]
    assert not done.as_taken
    with Image.open(done.written[0]) as picture:
        assert dict(picture.getexif()) == {}
        assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}
    assert b"Exif" not in done.written[0].read_bytes()
    whole = do(book, lambda s: write_pictures(s, FORMULA, tmp_path / "raw", as_taken=True))
    assert b"Exif" in whole.written[0].read_bytes()


def test_a_picture_drawn_anew_stands_upright_and_keeps_its_pixels() -> None:
    from PIL import Image

    block = Image.Exif()
    block[0x0112] = 6  # Exif 2.32: turn it a quarter clockwise to see it upright
    block[0x010F] = "Maker"
    out = io.BytesIO()
    Image.new("RGB", (40, 20), (200, 30, 30)).save(out, "JPEG", exif=block.tobytes())
    with Image.open(io.BytesIO(drawn_anew(out.getvalue()))) as picture:
        assert picture.size == (20, 40)
        assert dict(picture.getexif()) == {}
        red, green, _ = picture.getpixel((10, 20))
    assert red > 180 > 60 > green
    with pytest.raises(ValueError, match="cannot be decoded"):
        drawn_anew(b"no picture")


def test_without_a_camera_or_a_picture_it_says_so(tmp_path: Path) -> None:
    empty = create(tmp_path / "empty", "America/New_York", (44.2, -71.4), "imperial")
    with pytest.raises(InputRefused, match="no camera to hand on"):
        do(empty, lambda s: write_camtrap(s, tmp_path / "dp"))
    do(empty, lambda s: add_buck(s, "Nobody"))
    with pytest.raises(InputRefused, match="no picture of Nobody"):
        do(empty, lambda s: write_pictures(s, "Nobody", tmp_path / "him"))
