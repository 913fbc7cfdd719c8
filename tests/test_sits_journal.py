"""The journal of sits: hours and sightings as people write them, said once, undone as one act."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.cli.app import run
from camsign.errors import DONE, USAGE, UsageError
from camsign.logbook.settings import Settings
from camsign.sits.hourwords import Light, light_of_day, read_clock, read_hours
from camsign.sits.sightwords import Seen, read_seen

TZ = "America/New_York"
SETTINGS = Settings(id="w", tz=TZ, home=(44.1, -71.2))
DAY = date(2025, 11, 7)
LIGHT = light_of_day(SETTINGS, DAY)
BUCKS = {"b-1": "Split Brow", "b-2": "Split", "b-3": "Salt and Pepper", "b-4": "No Name"}


def _local(hour: int, minute: int = 0) -> datetime:
    moment = datetime(DAY.year, DAY.month, DAY.day, hour, minute, tzinfo=ZoneInfo(TZ))
    return moment.astimezone(UTC)


def test_dark_is_the_end_of_shooting_light() -> None:
    """Sunset in Conway, N.H. (44.1 N, 71.2 W) on Nov 7, 2025: 4:27 PM EST (NOAA's solar
    calculator, from memory to the minute); half an hour of light is left."""
    assert abs(LIGHT.last - _local(16, 57)) < timedelta(minutes=2)


@pytest.mark.parametrize(
    ("words", "begin", "end"),
    [
        ("3-dark", _local(15), LIGHT.last),
        ("light-9:30", LIGHT.first, _local(9, 30)),
        ("3pm-5:15pm", _local(15), _local(17, 15)),
        ("15-17", _local(15), _local(17)),
        ("3-5", _local(15), _local(17)),
        ("6 - 10", _local(6), _local(10)),
        ("3 to dark", _local(15), LIGHT.last),
        ("noon-dark", _local(12), LIGHT.last),
        ("0545-0930", _local(5, 45), _local(9, 30)),
    ],
)
def test_hours_are_the_hunted_ones(words: str, begin: datetime, end: datetime) -> None:
    assert read_hours(words, DAY, LIGHT, TZ) == (begin, end)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("4-6", "morning or evening"), ("dark-3", "not by hunting light"), ("3", "understood"),
        ("x-dark", "'x' is not understood"), ("25-26", "understood"), ("", "understood"),
        ("11pm-1am", "not by hunting light"),
    ],
)  # fmt: skip
def test_hours_that_cannot_be_are_one_line(words: str, told: str) -> None:
    with pytest.raises(UsageError, match=told) as refused:
        read_hours(words, DAY, LIGHT, TZ)
    assert "\n" not in str(refused.value)


def _read(text: str) -> list[Seen]:
    return read_seen(text, BUCKS, (_local(15), LIGHT.last), TZ, "imperial")


def test_a_phrase_says_who_how_far_from_where_and_when() -> None:
    eight, does = _read("8pt 40yd from the E 4:40; 2 does 60 yards")
    assert (eight.what, eight.points, eight.from_deg) == ("buck", 8, 90)
    assert eight.distance_m == pytest.approx(36.576)
    assert eight.at == _local(16, 40)
    assert (does.what, does.count, does.distance_m) == ("doe", 2, pytest.approx(54.864))


def test_the_longest_name_wins_and_what_means_nothing_is_a_note() -> None:
    (one,) = _read("Split brow, 30yd, limping")
    assert (one.buck, one.note) == ("b-1", "limping")
    assert _read("Split 30yd")[0].buck == "b-2"
    assert _read("nothing") == _read(" ; ") == []


@pytest.mark.parametrize(
    ("words", "met"),
    [
        ("no bucks", []), ("saw no bucks, 2 does", ["2 doe"]), ("no bucks but 2 does", ["2 doe"]),
        ("nothing; a doe", ["1 doe"]),
        ("2 does and a spike", ["2 doe", "1 spike"]), ("doe and 2 fawns", ["1 doe", "2 fawn"]),
        ("doe with 2 fawns", ["1 doe", "2 fawn"]), ("8pt 40 2 does", ["1 8pt 37m", "2 doe"]),
        ("8pt and 10pt", ["1 8pt", "1 10pt"]), ("8pt 40yd and limping", ["1 8pt 37m"]),
        ("Split Brow and a doe", ["1 b-1", "1 doe"]), ("Salt and Pepper 40yd", ["1 b-3 37m"]),
        ("8pt 40", ["1 8pt 37m"]), ("2 does 155", ["2 doe 142m"]), ("Split 60", ["1 b-2 55m"]),
        ("8pt at 40 yards, mature", ["1 8pt mature 37m"]), ("2 8pts", ["2 8pt"]),
        ("No Name 40", ["1 b-4 37m"]), ("Split Brow 2 does", ["1 b-1", "2 doe"]),
        ("8pt and a shooter", ["1 8pt", "1 buck mature"]),
        ("2 does, shooter", ["2 doe", "1 buck mature"]),
    ],
)  # fmt: skip
def test_each_one_seen_is_told_apart(words: str, met: list[str]) -> None:
    def one(m: Seen) -> str:
        who = m.buck or (f"{m.points}pt" if m.points else m.what)
        away = f" {m.distance_m:.0f}m" if m.distance_m else ""
        return f"{m.count} {who}{' mature' if m.mature else ''}{away}"

    assert [one(m) for m in _read(words)] == met


@pytest.mark.parametrize(
    ("words", "deg"),
    [("ENE", 67.5), ("WNW", 292.5), ("sse", 157.5), ("east", 90), ("from the east", 90),
     ("from the north east", 45), ("southwest", 225), ("going east", None), ("to the W", None),
     ("we", None)],
)  # fmt: skip
def test_where_it_came_from_is_any_compass_point_or_word(words: str, deg: float | None) -> None:
    (one,) = _read(f"8pt {words} 40yd")
    assert one.from_deg == deg
    assert (one.note is None) == (deg is not None)


@pytest.mark.parametrize(
    ("words", "told"),
    [("40yd", "who was seen"), ("doe 9am", "hours of the sit"), ("0 does", "between 1"),
     ("999 does", "between 1"), ("unicorn 20yd", "who was seen")],
)  # fmt: skip
def test_a_sighting_that_cannot_be_is_one_line(words: str, told: str) -> None:
    with pytest.raises(UsageError, match=told):
        _read(words)


@settings(max_examples=60)
@given(text=st.text(alphabet="0123456789-:;, abdeklmnopstuwy", max_size=24))
def test_whatever_is_written_is_read_or_refused(text: str) -> None:
    try:
        begin, end = read_hours(text, DAY, LIGHT, TZ)
    except UsageError:
        pass
    else:
        assert timedelta(0) < end - begin <= timedelta(hours=16)
    with suppress(UsageError):
        assert all(1 <= one.count <= 200 and one.what for one in _read(text))


@settings(max_examples=60)
@given(minutes=st.integers(0, 115))
def test_an_hour_within_the_sit_is_found_whatever_half_of_the_day(minutes: int) -> None:
    at = _local(15) + timedelta(minutes=minutes)
    shown = at.astimezone(ZoneInfo(TZ)).strftime("%I:%M").lstrip("0")
    assert read_clock(shown, _local(15), LIGHT.last, TZ) == at


def test_light_needs_a_home() -> None:
    with pytest.raises(UsageError, match="no home"):
        light_of_day(Settings(id="w", tz=TZ), DAY)
    assert isinstance(LIGHT, Light)


# --- as typed ------------------------------------------------------------------------------------


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "book"
    assert run(["init", str(root), "--home", "44.1,-71.2", "--units", "imperial"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(root))
    stand = ["place", "add", "stand", "East pine", "--at", "44.1,-71.198", "--shoots", "30yd"]
    assert run(stand) == DONE
    assert run(["place", "add", "food", "Oaks", "--at", "44.101,-71.198"]) == DONE
    assert run(["buck", "add", "Split Brow"]) == DONE
    return root


def _sits(capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    capsys.readouterr()
    assert run(["sit", "list", "--json"]) == DONE
    told: dict[str, object] = json.loads(capsys.readouterr().out)
    return told


ADD = ("sit", "add", "pine", "--on", "2025-11-07", "--hours", "3-dark", "--wind", "SW 6mph")


def test_a_sit_that_has_not_come_yet_is_refused(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["sit", "add", "pine", "--on", "2097-11-07", "--hours", "3-dark"]) == USAGE
    assert "Nov 7, 2097 has not come yet; check its year" in capsys.readouterr().err
    assert _sits(capsys)["sits"] == []


def test_a_sit_is_one_act_and_is_corrected_undone_and_removed(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*ADD, "--saw", "Split Brow 40yd E 4:40pm; 2 does", "--spooked", "doe 5pm"]) == DONE
    told = _sits(capsys)
    (row,) = told["sits"]  # type: ignore[misc]
    assert (row["stand"], row["day"], row["wind_deg"]) == ("East pine", "2025-11-07", 225)
    assert row["wind_ms"] == pytest.approx(2.68, abs=0.01)
    assert sorted((s["what"], s["buck"] or "", s["count"], s["spooked"]) for s in row["seen"]) == [
        ("buck", "Split Brow", 1, False), ("doe", "", 1, True), ("doe", "", 2, False),
    ]  # fmt: skip
    assert told["bucks_an_hour"]["n"] == 1 and told["deer_an_hour"]["n"] == 3  # type: ignore[index]
    sit = row["sit"]
    assert run(["sit", "set", sit, "--saw", "nothing", "--hours", "2-4:30"]) == DONE
    (row,) = _sits(capsys)["sits"]  # type: ignore[misc]
    assert [s["spooked"] for s in row["seen"]] == [True]
    assert row["hours"] == pytest.approx(2.5)
    assert run(["undo"]) == DONE
    (row,) = _sits(capsys)["sits"]  # type: ignore[misc]
    assert len(row["seen"]) == 3
    assert run(["sit", "remove", sit]) == DONE
    assert _sits(capsys)["sits"] == []
    assert run(["rebuild"]) == DONE
    assert _sits(capsys)["sits"] == []


def test_a_sit_said_twice_is_refused_since_it_would_count_twice(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*ADD, "--saw", "2 does"]) == DONE
    (row,) = _sits(capsys)["sits"]  # type: ignore[misc]
    capsys.readouterr()
    for hours in ("3-dark", "2-4"):
        assert run([*ADD[:6], hours, "--saw", "2 does"]) == USAGE
        told = capsys.readouterr().err
        assert f"you saved a sit at East pine for that time already ({row['sit']})" in told
        assert f"camsign sit set {row['sit']}" in told
    # The morning is another sit, until its hours are said to run into the evening's.
    assert run([*ADD[:6], "light-9:30"]) == DONE
    first = next(s["sit"] for s in _sits(capsys)["sits"] if s["sit"] != row["sit"])  # type: ignore[attr-defined]
    assert run(["sit", "set", first, "--hours", "3-4"]) == USAGE
    assert run(["sit", "set", row["sit"], "--hours", "2:30-dark"]) == DONE
    assert run(["sit", "remove", row["sit"]]) == DONE
    assert run(list(ADD)) == DONE


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("sit", "add", "fir", "--on", "2025-11-07", "--hours", "3-dark"), "no place 'fir'"),
        (("sit", "add", "Oaks", "--on", "2025-11-07", "--hours", "3-dark"), "is no stand"),
        (("sit", "add", "pine", "--on", "2025-11-07", "--hours", "4-6"), "morning or evening"),
        ((*ADD[:-1], "SW 6 knots"), "no wind speed in 'knots'"),
        ((*ADD[:-1], "sideways 6mph"), "sideways"),
        ((*ADD, "--saw", "something"), "who was seen"),
        (("sit", "remove", "t-00000000"), "there is no sit"),
        (("sit", "set", "t-00000000"), "nothing to change"),
        (("place", "set", "Oaks", "--shoots", "30yd"), "nobody shoots from a food"),
        (("place", "set", "East pine", "--shoots", "2mi"), "not between"),
    ],
)
def test_bad_words_are_one_line_and_nothing_is_said(
    book: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], told: str
) -> None:
    before = sorted(p.read_bytes() for p in (book / "journal").iterdir())
    capsys.readouterr()
    assert run(list(words)) == USAGE
    lines = [line for line in capsys.readouterr().err.splitlines() if line]
    assert len(lines) == 1 and told in lines[0]
    assert sorted(p.read_bytes() for p in (book / "journal").iterdir()) == before


GPX = """<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="44.1" lon="-71.198"><time>2025-11-07T22:00:00Z</time>
<name>sat pine 3-dark saw 8pt 40yd, 2 does spooked doe wind SW 6</name></wpt>
<wpt lat="44.1" lon="-71.198"><time>2025-11-08T22:00:00Z</time><name>sat pine</name></wpt>
</gpx>"""


def test_a_handhelds_words_become_a_sit_once(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "notes.gpx"
    path.write_text(GPX, encoding="utf-8")
    capsys.readouterr()
    run(["import", str(path), "--yes"])
    assert "a sit needs its stand and its hours" in capsys.readouterr().err
    (row,) = _sits(capsys)["sits"]  # type: ignore[misc]
    assert sorted((s["what"], s["points"], s["count"], s["spooked"]) for s in row["seen"]) == [
        ("buck", 8, 1, False), ("doe", None, 1, True), ("doe", None, 2, False),
    ]  # fmt: skip
    assert row["wind_deg"] == 225
    run(["import", str(path), "--yes"])
    assert len(_sits(capsys)["sits"]) == 1  # type: ignore[arg-type]
