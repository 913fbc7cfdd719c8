"""The sign log by commands: looked at again, shown, joined, linked by habit; files of the field."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from camsign.cli.app import run
from camsign.flows.fieldwork.sign_items import facing_words

Said = Callable[..., Any]


@pytest.fixture
def said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Said:
    """Run a command in a new logbook; give its JSON, or its text and messages."""
    assert run(["init", str(tmp_path / "book"), "--home", "44.2,-71.4", "--json"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))

    def command(*words: str, code: int = 0, as_json: bool = True) -> Any:
        capsys.readouterr()
        assert run([*words, "--json"] if as_json else words) == code
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        if not as_json:
            return out.out + out.err
        told = json.loads(out.out)
        assert told.pop("schema") == 1
        return told.get("rows", told)

    return command


def rub(said: Said, *words: str, at: str = "44.2,-71.4", on: str = "2025-10-20") -> str:
    sign: str = said("sign", "add", "rub", "--at", at, "--on", on, *words)["sign"]
    return sign


def rubs(said: Said, tmp_path: Path, rows: list[str]) -> None:
    """Take in rubs of one day from lines of latitude, longitude, travel, marks."""
    table = tmp_path / "rubs.csv"
    lines = ["kind,seen_on,lat,lon,travel,marks", *(f"rub,2025-10-20,{row}" for row in rows)]
    table.write_text("\n".join(lines), encoding="utf-8")
    said("sign", "import", str(table))


@pytest.mark.thorough
def test_absent_before_it_was_made_between(said: Said) -> None:
    sign = rub(said, "--bare", "SW", "--measure", "top=45in", "--measure", "far_marks=30cm")
    gone = said("sign", "again", sign, "--on", "2025-10-10", "--absent")
    assert (gone["made_from"], gone["read_as"]) == (None, "read as: no rub was there on 2025-10-10")
    dry = said("sign", "again", sign, "--on", "2025-11-10", "--state", "dry")
    assert (dry["made_from"], dry["made_to"]) == ("2025-10-10", "2025-10-20")
    shown = said("sign", "show", sign)
    assert [look["state"] for look in shown["looks"]] == ["absent", None, "dry"]
    assert shown["looks"][1]["taken_as"] == "bare 225T"
    assert shown["evidence"][0]["words"] == "tall rub"
    text = said("sign", "show", sign, as_json=False)
    assert "inside spread" in text and "hunters' rule of thumb" in text
    assert "top 45 in, far marks 12 in" in text
    both = said("sign", "again", sign, "--on", "2025-11-11", "--absent", "--state", "dry", code=2,
                as_json=False)  # fmt: skip
    assert "leave them out" in both
    assert "no sign 's-0'" in said("sign", "show", "s-0", code=2, as_json=False)


@pytest.mark.thorough
def test_a_sign_where_one_is_already_is_asked_about(said: Said) -> None:
    told = said("sign", "add", "rub", "--at", "44.2,-71.4", "--on", "2025-10-20", as_json=False)
    assert "already" not in told
    first = said("sign", "list")[0]["sign"]
    for kind, at in (("scrape", "44.2,-71.4"), ("rub", "44.2001,-71.4"), ("rub", "44.2,-71.4001")):
        told = said("sign", "add", kind, "--at", at, "--on", "2025-10-20", as_json=False)
        assert "already" not in told
    told = said("sign", "add", "rub", "--at", "44.20002,-71.4", "--on", "2025-11-20", as_json=False)
    assert f"You have a rub there already ({first})." in told
    again = told.split("camsign sign same ")[1].split(" makes")[0].split()
    said("sign", "same", *again)
    told = said("sign", "alike", as_json=False)
    assert "no likely doubles" in told


def test_a_bearing_against_another_of_the_same_day_is_asked_about(said: Said) -> None:
    sign = rub(said, "--travel", "NE")
    look = ("sign", "again", sign, "--travel")
    assert "both count" not in said(*look, "SW", "--on", "2025-11-20", as_json=False)
    assert "both count" not in said(*look, "NE", "--on", "2025-10-20", as_json=False)
    told = said(*look, "SW", "--on", "2025-10-20", as_json=False)
    assert "You also have NE (45°) from that day, and both count. Is one wrong?" in told
    assert f"camsign sign remove {sign}, then add it again" in told


def test_a_rub_of_three_seasons_is_one_and_traditional(said: Said) -> None:
    first = rub(said, on="2023-10-20")
    later = [
        rub(said, "--species", "alder", at=f"44.20001,-71.4000{n}", on=f"202{n}-10-20")
        for n in (4, 5)
    ]
    pairs = {(pair["sign"], pair["other"]) for pair in said("sign", "alike")}
    assert pairs == {(later[0], first), (later[1], first), (later[1], later[0])}
    assert "1 yd" in said("sign", "alike", as_json=False)
    for sign in later:
        shown = said("sign", "same", sign, first)
    assert (shown["sign"], shown["seasons"], shown["traditional"]) == (first, 3, True)
    assert shown["species"] == "alder", "what only the other said is kept"
    assert "traditional" in said("sign", "show", first, as_json=False)
    assert said("sign", "alike") == []
    assert said("sign", "move", first, "--at", "44.3,-71.4")["lat"] == 44.3
    said("sign", "remove", first)
    assert said("sign", "list") == []
    said("undo")
    assert len(said("sign", "list")) == 3


@pytest.mark.thorough
def test_a_buck_owns_a_habit(said: Said, tmp_path: Path) -> None:
    marks = [*["nicks punctures"] * 4, *["gouges"] * 16]
    rubs(said, tmp_path, [f"44.2{n + 10},-71.4,,{seen}" for n, seen in enumerate(marks)])
    nicked = [r["sign"] for r in said("sign", "list") if "nicks" in r["measures"]["marks"]]
    (proposal,) = said("habit", "propose")
    assert proposal["marks"] == ["nicks", "punctures"] and proposal["signs"] == sorted(nicked)
    assert "on 4 rubs" in said("habit", "propose", as_json=False)
    assert said("habit", "link", "High nicks", *nicked)["signs"] == nicked
    said("buck", "add", "Slim")
    assert said("habit", "give", "high nicks", "Slim")["buck"] == "Slim"
    assert "Slim's" in said("sign", "show", nicked[0], as_json=False)
    assert said("habit", "unlink", nicked[0]) == {"signs": [nicked[0]]}
    (habit,) = said("habit", "list")
    assert (habit["name"], habit["buck"], habit["signs"]) == (
        "High nicks",
        "Slim",
        sorted(nicked[1:]),
    )
    assert said("habit", "give", "High nicks")["buck"] is None
    assert "no habit 'x'" in said("habit", "give", "x", "Slim", code=2, as_json=False)


@pytest.mark.thorough
def test_cameras_hung_from_a_file(said: Said, tmp_path: Path) -> None:
    table = tmp_path / "cams.csv"
    table.write_text(
        "Kamera;Breite;Länge;from\nCAM03;44,2;-71,4;2025-08-01\nCAM04;95;-71,4;2025-08-01\n"
        "CAM05;44,21;-71,4;\n",
        encoding="cp1252",
    )
    words = ["hang", "import", str(table)]
    for column in ("Kamera=camera", "Breite=lat", "Länge=lon"):
        words += ["--column", column]
    first = said(*words, code=1)
    assert (first["cameras"], first["known"]) == (1, 0)
    encoding, place, day = first["refused"]
    assert "Windows-1252" in encoding and "latitude 95" in place and "--on DAY" in day
    again = said(*words, "--on", "2025-08-02", code=1)
    assert (again["cameras"], again["known"]) == (1, 1)
    # A camera is what is no command of the family, wherever its options stand.
    said("hang", "--at", "44.2,-71.41", "--from", "2025-08-01", "CAM06")
    assert [d["camera"] for d in said("deployments")] == ["CAM03", "CAM05", "CAM06"]
    assert "says nothing" in said(*words[:3], "--column", "lat", code=2, as_json=False)


def test_sign_far_away_and_without_a_day_by_options(said: Said, tmp_path: Path) -> None:
    table = tmp_path / "s.csv"
    table.write_text("Art,lat,lon,mood\nrub,12.5,100.2,good\n")
    words = ("sign", "import", str(table), "--column", "Art=kind", "--on", "2026-03-14")
    assert "--anywhere" in said(*words, code=3, as_json=False)
    text = said(*words, "--anywhere", as_json=False)
    assert "Sign: 1 new" in text and "not understood: mood" in text


@pytest.mark.thorough
def test_lines_as_a_track_to_walk(said: Said, tmp_path: Path) -> None:
    import gpxpy

    rubs(said, tmp_path, [f"{44.2 + n * 3e-4:.4f},-71.4,N," for n in range(5)])
    (line,) = said("sign", "lines", "--gpx", str(tmp_path / "out.gpx"))
    with (tmp_path / "out.gpx").open(encoding="utf-8") as stream:
        (track,) = gpxpy.parse(stream).tracks
    (points,) = [s.points for s in track.segments]
    assert len(points) == line["rubs"] + 2 == 7
    assert points[0].latitude == pytest.approx(44.2 - 300 / 111_100, abs=1e-4)
    back = said("import", str(tmp_path / "out.gpx"), code=3, as_json=False)
    assert "nobody has walked it yet" in back


def photo(path: Path, words: str, direction: float, north: str = "T") -> Path:
    """A phone's photo, its EXIF written by Pillow."""
    from PIL import Image
    from PIL.TiffImagePlugin import IFDRational

    picture = Image.new("RGB", (64, 48))
    exif = picture.getexif()
    exif[0x010E] = words
    exif.get_ifd(0x8769)[0x9003] = "2026:03:14 15:30:00"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "N", (44.0, 12.0, 0.0), "W", (71.0, 24.0, 0.0)
    gps[16], gps[17], gps[31] = north, direction, IFDRational(9, 2)
    picture.save(path, exif=exif)
    return path


def test_photos_offer_the_way_and_are_accepted_in_batch(said: Said, tmp_path: Path) -> None:
    files = [str(photo(tmp_path / "IMG_1.jpg", "rub alder", 45.0)),
             str(photo(tmp_path / "IMG_2.jpg", "", 60.0, "M"))]  # fmt: skip
    words = ("import", *files, "--photo-kind", "rub fresh")
    text = said(*words, as_json=False)
    assert "which way the camera looked: 2;" in text and "Nothing is saved yet" in text
    assert said(*words, "--yes", "--photo-direction")["sign"] == 2
    rows = {row["taken_as"]: row for row in said("sign", "list")}
    assert set(rows) == {"45T", "60M"}
    assert rows["45T"]["travel_deg"] == 45.0 and rows["60M"]["state"] == "fresh"
    assert rows["60M"]["travel_deg"] == pytest.approx(60 - 14, abs=1.5)
    assert rows["45T"]["seen_note"] == "place to within 4 m, by the phone"
    assert said(*words, "--yes", "--photo-direction")["known"] == 2


def test_at_a_terminal_it_asks(said: Said, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from camsign.cli import handheld

    asked: list[str] = []

    def answer(question: str) -> bool:
        asked.append(question)
        return True

    monkeypatch.setattr(handheld, "_asked", answer)
    said("import", str(photo(tmp_path / "IMG_1.jpg", "rub", 45.0)), as_json=False)
    said("import", str(photo(tmp_path / "IMG_2.jpg", "rub", 60.0)), as_json=False)
    assert [q.split()[0] for q in asked] == ["Take", "Take", "Take", "Are", "Take"]
    rows = said("sign", "list")
    assert {row["travel_deg"] for row in rows} == {45.0, 60.0}
    assert len({row["sign"] for row in rows}) == 1


def test_a_heic_photo_is_read_to_its_end(said: Said, tmp_path: Path) -> None:
    """A HEIC may keep its EXIF behind the picture, here behind a box of two megabytes."""
    heif = pytest.importorskip("pillow_heif")
    from PIL import Image

    picture = Image.open(photo(tmp_path / "a.jpg", "rub alder", 45.0))
    file = tmp_path / "a.heic"
    heif.from_pillow(picture).save(file, exif=picture.getexif().tobytes())
    data = file.read_bytes()
    first = int.from_bytes(data[:4], "big")
    size = 2 << 20
    file.write_bytes(
        data[:first] + size.to_bytes(4, "big") + b"free" + bytes(size - 8) + data[first:]
    )
    assert said("import", str(file), "--yes", "--photo-direction")["sign"] == 1
    assert said("sign", "list")[0]["travel_deg"] == 45.0


@pytest.mark.thorough
def test_two_devices_copies_by_command(said: Said, tmp_path: Path) -> None:
    for name, lon in (("mine", -71.4), ("theirs", -71.40002)):
        (tmp_path / f"{name}.csv").write_text(
            f"kind,lat,lon,seen_on\nrub,44.2,{lon},2025-10-20\n", encoding="utf-8"
        )
    said("import", str(tmp_path / "mine.csv"), "--yes")
    theirs = str(tmp_path / "theirs.csv")
    shown = said("import", theirs)
    assert len(shown["twins"]) == 1 and shown["twins"][0]["distance_m"] < 5
    assert "--as-one" in said("import", theirs, as_json=False)
    assert said("import", theirs, "--yes", "--as-one")["sign"] == 0
    assert len({row["sign"] for row in said("sign", "list")}) == 1
    assert said("import", theirs, "--yes")["known"] == 1


@pytest.mark.thorough
def test_places_that_cannot_be_are_asked_about(said: Said, tmp_path: Path) -> None:
    for place, words in (
        ("0,0", "without a fix"),
        ("-71.4,44.2", "swapped"),
        ("12,100", "1,000 km"),
    ):
        for verb in (("sign", "add", "rub", "--on"), ("hang", "CAM01", "--from")):
            told = said(*verb, "2025-10-20", f"--at={place}", code=2, as_json=False)
            assert words in told and len(told.splitlines()) == 1
    said("sign", "add", "rub", "--on", "2025-10-20", "--at=12,100", "--anywhere")
    noise = tmp_path / "noise.gpx"
    noise.write_bytes(bytes(range(256)) * 20)
    assert "is no GPX" in said("import", str(noise), code=3, as_json=False)


def test_an_arrow_is_that_of_the_letters_beside_it() -> None:
    """The same letters had two arrows on one screen."""
    for deg in (12.0, 20.0, 23.0, 33.0):
        assert facing_words(deg) == "↗ faces NNE"
    around = [facing_words(turn * 22.5)[0] for turn in range(16)]
    assert "".join(around) == "↑↗↗↗→↘↘↘↓↙↙↙←↖↖↖"


def test_how_a_bearing_was_read_is_shown(said: Said, tmp_path: Path) -> None:
    rubs(said, tmp_path, ["44.2,-71.4,bare SW,", "44.21,-71.4,60T,"])
    file = tmp_path / "rubs.csv"
    file.write_text(file.read_text().replace("2025-10-20", "2025-10-21"), encoding="utf-8")
    shown = said("import", str(file))["sign"]
    assert [(row["way"], row["why"]) for row in shown] == [
        ("↗ going NE", "bare side SW"),
        ("↗ going ENE", ""),
    ]
