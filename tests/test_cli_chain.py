"""The whole job by commands: from an empty folder to near, visits and when, as scripts see it."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import ephem
import made_cards
import pytest

from camsign.cli.app import run
from camsign.logbook.folder import Folder

pytestmark = pytest.mark.thorough
Run = Callable[..., Any]
HOME = "44.6150,-71.2350"
KNOB = (44.6204, -71.2350)
ESTIMATE = {"value", "low", "high"}


@pytest.fixture
def said(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run one command; give its JSON (or its text) and check the exit code and stdout."""

    def command(*words: str, code: int = 0, as_json: bool = True) -> Any:
        capsys.readouterr()
        given = [*words, "--json"] if as_json else list(words)
        assert run(given) == code, capsys.readouterr()
        out = capsys.readouterr()
        assert "Traceback" not in out.err
        if not as_json:
            return out.out
        told = json.loads(out.out)
        assert told["schema"] == 1
        return told.get("rows", told)

    return command


def autumn_card(root: Path) -> Path:
    """Forty mornings of September and October, a picture at 06:20 shown."""
    start = datetime(2025, 9, 5, 6, 20)
    return made_cards.fill(
        root,
        {
            f"DCIM/100MEDIA/IMG_{i + 1:04d}.JPG": made_cards.jpeg(
                i, made_cards.exif(start + timedelta(days=i))
            )
            for i in range(40)
        },
    )


def write_notes(root: Path, card: Path) -> None:
    root.mkdir()
    frames = [hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(card.rglob("*.JPG"))]
    rows = [f"{f[:12]},,Burr,1,NE" for f in frames[:10]] + [f"{frames[20][:16]},doe,,2,"]
    # What nobody has looked at is no absence: the others are said to be empty.
    rows += [f"{f[:16]},nothing,,," for i, f in enumerate(frames) if i >= 10 and i != 20]
    (root / "tags.csv").write_text("frame,what,buck,count,travel\n" + "\n".join(rows) + "\n")
    (root / "sign.csv").write_text(
        "kind,lat,lon,seen_on,travel_deg\n"
        f"rub,{KNOB[0] + 0.0005},{KNOB[1]},2026-03-14,45\n"
        f"bed,{KNOB[0] + 0.0006},{KNOB[1]},2026-03-14,\n"
    )
    ring = [[-71.236, 44.620], [-71.234, 44.620], [-71.234, 44.622], [-71.236, 44.622]]
    feature = {
        "type": "Feature",
        "properties": {"name": "Burr Knob", "kind": "bedding"},
        "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
    }
    whole = {"type": "FeatureCollection", "features": [feature]}
    (root / "areas.geojson").write_text(json.dumps(whole))


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """Everything from init to area import in real processes, with what each command gave."""
    root = tmp_path_factory.mktemp("chain")
    card = autumn_card(root / "card")
    write_notes(root / "notes", card)
    homes = {"CAMSIGN_CACHE": str(root / "cache"), "CAMSIGN_CONFIG": str(root / "config")}
    place, book = f"{KNOB[0]},{KNOB[1]}", ("--logbook", str(root / "book"))
    hang = ("hang", "CAM07", "--at", place, "--from", "2025-08-10", "--facing", "NE")
    steps = {
        "init": ("init", str(root / "book"), "--home", HOME),
        "hang": (*book, *hang),
        "ingest": (*book, "ingest", str(card), "--camera", "CAM07"),
        "tag": (*book, "tag", "import", str(root / "notes/tags.csv"), "--add-bucks"),
        "sign": (*book, "sign", "import", str(root / "notes/sign.csv")),
        "area": (*book, "area", "import", str(root / "notes/areas.geojson")),
        "takedown": (*book, "takedown", "CAM07", "--on", "2025-12-05", "--working"),
    }
    given = {}
    for name, words in steps.items():
        done = subprocess.run(
            [sys.executable, "-m", "camsign", *words, "--json"],
            capture_output=True,
            text=True,
            check=True,
            env=os.environ | homes,
        )
        given[name] = json.loads(done.stdout)
    return root, given


@pytest.fixture
def chain(
    built: tuple[Path, dict[str, Any]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> dict[str, Any]:
    """A copy of the finished logbook of its own, and what each command had given."""
    root, given = built
    book = tmp_path / "book"
    shutil.copytree(root / "book", book)
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(book))
    return given | {"book": book, "card": root / "card", "notes": root / "notes"}


def ephem_sunrise(day: datetime) -> datetime:
    """Sunrise in UTC by ephem, with the US Naval Observatory's zenith angle of 90 degrees 50'."""
    there = ephem.Observer()
    there.lat, there.lon = str(KNOB[0]), str(KNOB[1])
    there.pressure, there.horizon = 0, "-0:50"
    there.date = day + timedelta(hours=6)
    risen: datetime = there.next_rising(ephem.Sun(), use_center=True).datetime()
    return risen


def answers(said: Run) -> dict[str, Any]:
    return {
        "near": said("near"),
        "visits": said("visits"),
        "by camera": said("visits", "--by", "camera"),
        "when": said("when", "Burr", "Burr Knob"),
        "frames": said("frames"),
        "bucks": said("buck", "list"),
        "sign": said("sign", "list"),
        "areas": said("area", "list"),
        "deployments": said("deployments"),
    }


def test_each_step_carries_the_keys_that_scripts_rely_on(chain: dict[str, Any]) -> None:
    assert chain["init"]["tz"] == "America/New_York"
    assert chain["init"]["logbook"].endswith("book")
    assert chain["init"]["where"].endswith("time zone America/New_York (United States)")
    assert {"deployment", "camera"} <= set(chain["hang"])
    ingest = chain["ingest"]
    assert (ingest["files"], ingest["new"], ingest["known"]) == (40, 40, 0)
    assert ingest["safe_to_wipe"] is True
    assert {"card", "camera", "folder", "frames", "first", "last"} <= set(ingest["cards"][0])
    assert {"refused", "by_camera", "seconds"} <= set(ingest)
    assert chain["tag"]["tagged"] == 40
    assert chain["tag"]["skipped"] == []
    assert chain["takedown"]["until"].startswith("2025-12-0")


@pytest.mark.thorough
def test_answers_carry_the_keys_and_the_truth(chain: dict[str, Any], said: Run) -> None:
    got = answers(said)
    visit = next(r for r in got["visits"] if r["buck"] == "Burr")
    assert (visit["visits"], visit["nights_seen"]) == (10, 10)
    # A picture every morning from 5 September to 14 October: weeks of silence before and after are
    # too long for such a camera, so only the 38 nights from 5 September to 12 October count.
    assert visit["nights_watched"] == 38
    assert {"area", "area_id", "buck_id", "first_seen", "last_seen"} <= set(visit)
    for name in ("per_100_nights", "daylight", "days_between_median"):
        assert set(visit[name]) >= ESTIMATE
    assert visit["daylight"]["n"] == 10
    lit = sum(
        ephem_sunrise(datetime(2025, 9, 5 + i)) <= datetime(2025, 9, 5 + i, 10, 20)
        for i in range(10)
    )
    assert 0 < lit < 10
    assert visit["daylight"]["value"] == lit / 10
    when = got["when"]
    assert {"buck", "area", "nights_watched", "last_seen", "daylight"} <= set(when)
    assert sum(h["visits"] for h in when["by_hour_from_sunrise"]) == 10
    assert set(when["by_hour_from_sunset"][0]) == {"hour", "visits"}
    first = when["visits"][0]
    assert {"utc", "local", "camera", "in_daylight", "distance_m"} <= set(first)
    assert first["local"].startswith("2025-09-05T06:20:00-04:00")
    assert datetime.fromisoformat(first["utc"]) == datetime.fromisoformat(first["local"])
    frame = got["frames"][0]
    assert {"frame", "file", "camera", "deployment", "clock_time", "utc", "local"} <= set(frame)
    assert frame["clock_time"] == "2025-09-05T06:20:00"
    assert got["sign"][0]["made_from"] == "2025-09-01"
    assert {"sign", "kind", "lat", "lon", "seen_on", "made_to", "season"} <= set(got["sign"][0])
    assert {"area", "kind", "lat", "lon", "radius_m"} <= set(got["areas"][0])
    assert {"buck", "name", "age", "mature", "first_seen", "last_seen"} <= set(got["bucks"][0])


@pytest.mark.thorough
def test_sign_found_in_march_joins_last_autumns_pictures(chain: dict[str, Any], said: Run) -> None:
    rows = said("near", "--kind", "rub", "--buck", "Burr")
    assert len(rows) == 10
    assert all(r["days"] == 0 for r in rows)
    # 0.0005 degrees of latitude at 44.6 N are 55.6 m (1 degree is 111,122 m there: WGS 84).
    assert rows[0]["distance_m"] == pytest.approx(55.6, abs=0.1)
    assert set(rows[0]) >= {"frame", "buck", "utc", "sign", "kind", "distance_m", "bearing_deg"}
    assert said("near", "--kind", "bed") == []  # a bed seen in March was not there in September


@pytest.mark.thorough
def test_the_same_card_twice_adds_nothing(chain: dict[str, Any], said: Run) -> None:
    before = sorted(p for p in chain["book"].rglob("*") if "cards" in p.parts)
    again = said("ingest", str(chain["card"]), "--camera", "CAM07")
    assert (again["new"], again["known"], again["safe_to_wipe"]) == (0, 40, True)
    assert sorted(p for p in chain["book"].rglob("*") if "cards" in p.parts) == before
    again = said("sign", "import", str(chain["notes"] / "sign.csv"))
    assert again["new"] == 0


@pytest.mark.thorough
def test_losing_the_cache_changes_no_answer_and_opens_no_picture(
    chain: dict[str, Any], said: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = answers(said)
    shutil.rmtree(Folder(chain["book"]).cache)
    opened: list[str] = []
    real = Path.open

    def watched(self: Path, *args: Any, **kwargs: Any) -> Any:
        opened.append(str(self))
        return real(self, *args, **kwargs)

    for picture in (chain["book"] / "cards").rglob("*.JPG"):
        picture.chmod(0o600)
        picture.write_bytes(b"gone")
    monkeypatch.setattr(Path, "open", watched)
    assert answers(said) == before
    assert not [name for name in opened if name.upper().endswith(".JPG")]


@pytest.mark.thorough
def test_csv_has_the_json_keys_with_estimates_spread(chain: dict[str, Any], said: Run) -> None:
    text = said("visits", "--csv", as_json=False)
    row = next(csv.DictReader(io.StringIO(text)))
    assert {"per_100_nights", "per_100_nights_low", "per_100_nights_high", "daylight"} <= set(row)
    for words in (("near",), ("when", "Burr", "Burr Knob"), ("frames",), ("buck", "list")):
        assert said(*words, "--csv", as_json=False).count("\n") >= 2


@pytest.mark.thorough
def test_people_get_words_and_a_map(chain: dict[str, Any], said: Run, tmp_path: Path) -> None:
    text = said("visits", as_json=False)
    assert "Burr" in text and "Burr Knob" in text
    assert "10 visits, on 10 days" in text
    drawn = said("map", str(tmp_path / "map.png"))
    assert Path(drawn["written"][0]).read_bytes().startswith(b"\x89PNG")


@pytest.mark.thorough
def test_undo_takes_the_tags_back_and_saying_it_again_brings_them(
    chain: dict[str, Any], said: Run
) -> None:
    before = said("visits")
    said("tag", "nothing", "--camera", "CAM07", "--from", "2025-09-05", "--to", "2025-09-30")
    assert said("visits") == []
    act = said("undo")["act"]
    assert said("visits") == before
    history = said("history")
    assert next(r for r in history if r["act"] == act)["undone"] is True
    said("undo", history[0]["act"])
    assert said("visits") == []


def test_python_gives_the_same_numbers_as_dataframes(chain: dict[str, Any], said: Run) -> None:
    import camsign

    frame = camsign.open(chain["book"]).visits(buck="Burr")
    rows = said("visits", "--buck", "Burr")
    assert frame["visits"].tolist() == [r["visits"] for r in rows]
    assert frame["per_100_nights_low"].tolist() == [r["per_100_nights"]["low"] for r in rows]
    assert frame.attrs["why"]
