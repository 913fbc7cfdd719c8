"""Home is said back where it lies, a forgotten minus is asked about, a wrong home can be mended."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from page_logbook import HOME, Shot, new_book
from page_server import running

from camsign.cli.app import run
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.flows.fieldwork.starting import move_home, refuse_slip, understood
from camsign.logbook import settings
from camsign.logbook.folder import create
from camsign.page.first import land_path
from camsign.page.lists import make_strips
from camsign.page.woods import hung_too_late

HERE = "America/New_York"


@pytest.mark.parametrize(
    ("home", "meant"),
    [
        ("44.1135, 71.642", "44.1135, -71.642"),  # the minus was forgotten: Kazakhstan
        ("44.1135, -71.642", None),
        ("46.5, -87.4", None),  # Michigan keeps Eastern time, or nearly
        ("47.6, -120.5", None),  # three hours off, and no forgotten sign
        ("51.5, 0.12", None),  # far from here either way
    ],
)
def test_a_forgotten_minus_is_asked_about(home: str, meant: str | None) -> None:
    assert understood(home, HERE).meant == meant
    # On a machine that keeps no zone of land the minus was not missed.
    assert all(understood(home, zone).meant == meant for zone in (None, "UTC", "No/Such"))
    assert understood("44.1135, 71.642", "Asia/Almaty").meant is None  # who is there is right


def test_a_place_is_said_back() -> None:
    said = understood("44.1135, 71.642", HERE)
    assert "44.114° N, 71.642° E" in said.where and "Asia/Almaty" in said.where
    with pytest.raises(UsageError):
        understood("somewhere", HERE)


def test_home_is_moved_and_the_rest_of_the_settings_stays(tmp_path: Path) -> None:
    folder = create(tmp_path / "book", "Asia/Almaty", (44.1135, 71.642), "imperial")
    path = folder.root / settings.FILE
    path.write_text(path.read_text().replace("reach_m = 200", "reach_m = 150"))
    before = path.read_text()
    assert move_home(folder, "44.1135, -71.642").tz == HERE
    now = settings.read(path)
    assert (now.home, now.tz, now.reach_m) == ((44.1135, -71.642), HERE, 150)
    told = zip(before.splitlines(), path.read_text().splitlines(), strict=True)
    assert sum(a != b for a, b in told) == 2
    without = create(tmp_path / "other", HERE, None, "metric")
    move_home(without, "60.1, 24.9")
    assert settings.read(without.root / settings.FILE).home == (60.1, 24.9)
    with pytest.raises(UsageError, match="lacks a line"):
        settings.moved("[answers]\nhome = [1, 2]\n", (1.0, 2.0), HERE)


@pytest.mark.thorough
def test_the_pages_say_home_back_and_mend_it(tmp_path: Path) -> None:
    with running(None, tmp_path) as server:
        told = server.get("/first/place?home=44.1135,71.642&zone=America/New_York")
        assert told["meant"] == "44.1135, -71.642" and (told["x"], told["y"]) == (
            pytest.approx(251.642),
            pytest.approx(45.8865),
        )
        assert server.ask("GET", "/first/place?home=nonsense").status == 400
        assert server.get("/first/world")["land"] == land_path()
        slip = {"folder": "a", "home": "44.1135, 71.642"}
        refused = server.ask("POST", "/first", json.dumps(slip).encode())
        assert refused.status == 400 and "is in Kazakhstan" in refused.json["what"]
        assert not (tmp_path / "a").exists()
        server.post("/first", {**slip, "sure": slip["home"]})
        assert "Asia/Almaty" in _woods(server)
        assert HERE in server.post("/home", {"home": "44.1135, -71.642"})["what"]
        assert "Asia/Almaty" not in (page := _woods(server)) and HERE in page
        assert server.ask("POST", "/home", b'{"home": "95, 10"}').status == 400
        assert server.ask("POST", "/home", b'{"home": "44.1135, 71.642"}').status == 400


def _woods(server: object) -> str:
    answer = server.ask("GET", "/woods", headers={"Accept": "text/html"})  # type: ignore[attr-defined]
    return str(answer.body.decode())


def test_the_small_map_has_land_where_land_is() -> None:
    cells = {tuple(map(int, c[1:].split("h")[0].split())) for c in land_path().split("z") if c}

    def land(lat: float, lon: float) -> bool:
        across, down = lon + 180, 90 - lat  # cells of 4 degrees; the first row begins 6 down
        return (int(across // 4 * 4), int((down - 2) // 4 * 4) + 2) in cells

    # From any atlas: Nebraska, Kazakhstan, Chad; the mid Pacific, the mid Atlantic.
    assert land(41, -99) and land(48, 68) and land(15, 19)
    assert not land(0, -140) and not land(30, -45)


def test_a_camera_noted_as_hung_later_than_its_first_picture_is_told(tmp_path: Path) -> None:
    book = new_book(tmp_path / "book")
    book.hang("CAM01", *HOME)  # since August 1, 2025
    first = datetime(2024, 9, 1, 6, 30)
    book.card("CAM01", [Shot(first + timedelta(days=d)) for d in range(3)], size=(320, 240))
    book.hang("CAM02", *HOME)
    book.card("CAM02", [Shot(datetime(2025, 9, 1, 6, 30))], size=(320, 240))
    with open_logbook(book.folder) as session:
        make_strips(session)
        (late,) = hung_too_late(session, ["CAM01", "CAM02"])
        assert hung_too_late(session, ["CAM02"]) == []
    assert (late["camera"], late["hung"], late["first"], late["frames"]) == (
        "CAM01",
        "2025-08-01",
        "2024-09-01",
        3,
    )


def test_a_clock_at_its_makers_date_is_no_late_hang(tmp_path: Path) -> None:
    book = new_book(tmp_path / "book")
    book.hang("CAM01", *HOME)
    first = datetime(2015, 1, 1, 0, 3)
    book.card("CAM01", [Shot(first + timedelta(days=d)) for d in range(3)], size=(320, 240))
    with open_logbook(book.folder) as session:
        assert hung_too_late(session, ["CAM01"]) == []


@pytest.mark.parametrize(
    ("home", "words", "remedy"),
    [
        ("44.615,71.235", "is in Kazakhstan", "--home 44.615,-71.235"),
        ("-71.235,44.615", "numbers look swapped", "--home 44.615,-71.235"),
        ("30.5, 98.0", "is in China", "--home 30.5,-98"),
    ],
)
def test_a_first_home_that_is_a_slip_is_refused_unless_insisted(
    home: str, words: str, remedy: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "hollow"
    assert run(["init", str(book), f"--home={home}"]) == 2
    err = capsys.readouterr().err
    assert words in err and remedy in err and err.count("\n") == 1 and not book.exists()
    assert run(["init", str(book), f"--home={home}", "--anywhere"]) == 0


@pytest.mark.parametrize("home", ["44.6,-71.2", "-43.5,172.6", "61.5,23.8", "19.7,-155.5"])
def test_homes_where_deer_are_hunted_need_no_word(home: str) -> None:
    refuse_slip(home)


def test_a_second_try_puts_an_empty_logbook_right_and_no_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "hollow"
    assert run(["init", str(book), "--home=44.615,71.235", "--anywhere"]) == 0
    assert run(["init", str(book), "--home=44.615,-71.235"]) == 0
    assert settings.read(book / settings.FILE).tz == HERE
    assert "71.235° W" in capsys.readouterr().out
    assert run(["--logbook", str(book), "buck", "add", "Split Brow"]) == 0
    assert run(["init", str(book), "--home=44.615,-80"]) == 3
    err = capsys.readouterr().err
    assert "is a logbook already, home 44.615° N, 71.235° W" in err and "nothing was changed" in err
    assert "Move home" in err


def test_a_file_that_lies_where_home_would_with_its_minus_blames_home(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book, file = tmp_path / "hollow", tmp_path / "handheld.gpx"
    assert run(["init", str(book), "--home=44.615,71.235", "--anywhere"]) == 0
    file.write_text(
        '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
        + "".join(
            f'<wpt lat="44.61{n}" lon="-71.23{n}"><name>rub {n}</name></wpt>' for n in range(4)
        )
        + "</gpx>",
        encoding="utf-8",
    )
    capsys.readouterr()
    assert run(["--logbook", str(book), "import", str(file), "--yes"]) == 2
    err = capsys.readouterr().err
    assert "all 4 places of it lie around 44.6,-71.2" in err and "its minus is missing" in err
    assert "--home 44.615,-71.235" in err and err.count("\n") == 1
    assert (
        run(
            [
                "--logbook",
                str(book),
                "import",
                str(file),
                "--yes",
                "--anywhere",
                "--on",
                "2026-03-14",
            ]
        )
        == 0
    )
