"""A lake of Parquet: others read it, only what changed is written, and its answers are the same."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pytest
from answers_world import World

from camsign.answers.lake import Wanted, open_lake
from camsign.answers.lake_compare import lake_compare
from camsign.answers.lake_visits import lake_visits
from camsign.answers.lake_when import lake_when
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.cli.app import run
from camsign.errors import InputRefused, UsageError
from camsign.flows.handover import lake as written
from camsign.flows.handover.lake import write_lake
from camsign.flows.handover.rounded import rounded
from camsign.logbook import placing
from camsign.logbook.database import one_file
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings

TZ, HOME = "America/New_York", (44.1, -71.2)
FIGURES = (
    "visits", "nights_seen", "nights_watched", "on_watch", "per_100_nights",
    "per_100_nights_poisson", "day", "gray", "dark", "shooting_light",
)  # fmt: skip


def _property(name: str, seed: int, reach_m: float = 200.0) -> Session:
    """Two seasons of two bucks and one who ended, at two areas; some pictures wait to be sorted."""
    chance = np.random.default_rng(seed)
    world = World(Settings(id=name * 2, tz=TZ, home=HOME, reach_m=reach_m))
    for buck, age in (("Split Brow", 5.5), ("Button", 1.5)):
        world.buck(buck, age)
    world.buck("Mud Hen", 4.5, ended="shot 2025-11-05")
    world.area("Hemlock Bench", (0, 0), 80)
    world.area("Far Knob", (900, 0), 80)
    for i, place in enumerate(((150, 0), (0, 120), (800, 0))):
        off = [(date(2025, 10, 10), date(2025, 10, 12 + i))]
        hung = world.camera(f"CAM{i}", place, date(2025, 5, 1), date(2025, 12, 1), off)
        for buck in ("b-split-brow", "b-mud-hen", "b-button", None):
            at = np.datetime64("2025-05-02T04:00:00", "us") + chance.integers(
                0, 210 * 86_400, 60
            ).astype("timedelta64[s]")
            world.seen_many(buck, hung, np.sort(np.repeat(at, 2)))
        world.add("unsorted", deployment=hung, day=date(2025, 9, 3 + i), night=date(2025, 9, 3),
                  bursts=2, likely_empty=0)  # fmt: skip
    made = (date(2025, 10, 1), date(2025, 10, 30))
    world.sign("rub", (150, 30), date(2025, 10, 30), made, 90.0, sign="s-rub")
    session = world.session()
    object.__setattr__(session.folder, "root", Path(name))
    session.con.execute(
        "INSERT INTO frames (frame, card)"
        " SELECT frame, camera || '-' || month(day) // 3 FROM detections"
    )
    session.con.execute("INSERT INTO cards (card, folder) SELECT DISTINCT card, card FROM frames")
    return session


@pytest.fixture(scope="module")
def hollow() -> Session:
    return _property("hollow", 1)


@pytest.fixture(scope="module")
def gore() -> Session:
    return _property("gore", 2, reach_m=120.0)


@pytest.fixture(scope="module")
def lake(hollow: Session, gore: Session, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("lake") / "our [lake]"
    for session in (hollow, gore):
        write_lake(session, folder)
    return folder


def _files(lake: Path) -> dict[Path, bytes]:
    return {p: p.read_bytes() for p in lake.rglob("*") if p.is_file()}


def test_duckdb_and_pandas_read_it_on_their_own(lake: Path, hollow: Session, gore: Session) -> None:
    counts = {
        name: s.con.execute("SELECT count(*) FROM detections").fetchone()[0]
        for name, s in (("hollow", hollow), ("gore", gore))
    }
    glob = f"{one_file(lake)}/detections/**/*.parquet"
    own = duckdb.execute(
        "SELECT property, count(*), count(DISTINCT season) FROM read_parquet(?) GROUP BY ALL",
        [glob],
    ).fetchall()
    assert sorted(own) == sorted((name, n, 2) for name, n in counts.items())
    rows = pd.read_parquet(lake / "detections", engine="pyarrow")
    assert rows.groupby("property", observed=True).size().to_dict() == counts
    assert str(rows["utc"].dtype) == "datetime64[us, UTC]"
    late = pd.read_parquet(lake / "detections", filters=[("season", "==", 2024)])
    assert late["day"].max() == date(2025, 6, 30)


def test_one_file_a_card_and_season(lake: Path) -> None:
    home = lake / "detections" / "property=hollow"
    found = sorted(str(p.relative_to(home)) for p in home.rglob("*.parquet"))
    assert "season=2024/CAM0-2.parquet" in found
    assert "season=2025/CAM0-2.parquet" in found
    assert len(found) == 12


def test_only_what_changed_is_written_and_what_is_gone_goes(tmp_path: Path) -> None:
    session = _property("hollow", 3)
    first = write_lake(session, tmp_path)
    before = _files(tmp_path)
    assert set(before) == set(first.written)
    again = write_lake(session, tmp_path)
    assert (again.written, again.removed, again.kept) == ((), (), len(first.written))
    assert _files(tmp_path) == before

    session.con.execute(
        "UPDATE detections SET sure = 'unsure' WHERE frame = ("
        " SELECT min(frame) FROM detections WHERE camera = 'CAM2' AND month(day) = 5"
        " AND buck_id = 'b-button')"
    )
    changed = write_lake(session, tmp_path)
    names = sorted(p.name for p in changed.written)
    assert names in (["CAM2-1.parquet"], ["CAM2-1.parquet", "visits.parquet"])

    session.con.execute("DELETE FROM detections WHERE camera = 'CAM2' AND month(day) = 5")
    gone = write_lake(session, tmp_path)
    assert [p.name for p in gone.removed] == ["CAM2-1.parquet"]
    assert not gone.removed[0].exists()


@pytest.mark.thorough
def test_another_property_and_foreign_files_stay(tmp_path: Path) -> None:
    write_lake(_property("gore", 2), tmp_path)
    mine = tmp_path / "detections" / "property=hollow" / "mine.parquet"
    mine.parent.mkdir()
    duckdb.execute(f"COPY (SELECT 1 AS x) TO '{mine}' (FORMAT parquet)")
    before = _files(tmp_path)
    session = _property("hollow", 3)
    write_lake(session, tmp_path)
    session.con.execute("DELETE FROM detections")
    write_lake(session, tmp_path)
    assert before.items() <= _files(tmp_path).items()


@pytest.mark.thorough
def test_two_logbooks_of_one_name_do_not_mix(tmp_path: Path) -> None:
    one, other = _property("hollow", 3), _property("hollow", 4)
    object.__setattr__(other.settings, "id", "another")
    names = [write_lake(s, tmp_path).property for s in (one, other, one)]
    assert names == ["hollow", "hollow-anothe", "hollow"]


def test_a_run_cut_short_is_completed_by_the_next(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = _property("hollow", 3)
    whole = {p.relative_to(tmp_path / "a") for p in write_lake(session, tmp_path / "a").written}
    left = 7

    real = placing.adopt

    def adopt(temp: Path, target: Path, **more: Any) -> None:
        nonlocal left
        left -= 1
        if left < 0:
            raise OSError(28, "No space left on device")
        real(temp, target, **more)

    monkeypatch.setattr(written.placing, "adopt", adopt)
    with pytest.raises(OSError, match="No space"):
        write_lake(session, tmp_path / "b")
    assert not list((tmp_path / "b").rglob(".tmp-*"))
    half = tmp_path / "b" / "detections" / "property=hollow" / "season=2024" / ".tmp-CAM0-1.part"
    half.write_bytes(b"PAR1 half")  # what a kill leaves
    monkeypatch.setattr(written.placing, "adopt", real)
    done = write_lake(session, tmp_path / "b")
    assert done.kept == 7
    assert {p.relative_to(tmp_path / "b") for p in _files(tmp_path / "b")} == whole


def test_places_are_rounded_unless_exact_ones_are_asked_for(
    hollow: Session, tmp_path: Path
) -> None:
    places = {}
    for exact in (False, True):
        write_lake(hollow, tmp_path, exact)
        for table in ("deployments", "sign"):
            glob = f"{one_file(tmp_path / table)}/**/*.parquet"
            rows = duckdb.execute("SELECT lat, lon FROM read_parquet(?)", [glob]).fetchall()
            places[table, exact] = sorted(rows)
    for table in ("deployments", "sign"):
        assert places[table, False] == sorted(rounded(*at) for at in places[table, True])
        assert places[table, False] != places[table, True]


def test_distances_are_rounded_and_stay_within_reach(hollow: Session, tmp_path: Path) -> None:
    far = {}
    for exact in (True, False):
        write_lake(hollow, tmp_path, exact)
        for table in ("reach", "visits"):
            glob = f"{one_file(tmp_path / table)}/**/*.parquet"
            sql = "SELECT distance_m FROM read_parquet(?) WHERE distance_m IS NOT NULL ORDER BY ALL"
            far[table, exact] = [r[0] for r in duckdb.execute(sql, [glob]).fetchall()]
    reach = hollow.settings.reach_m
    for table in ("reach", "visits"):
        rough, true = far[table, False], far[table, True]
        assert rough != true and all(x % 100 == 0 or x in (reach, reach + 1) for x in rough)
        assert [x <= reach for x in rough] == [x <= reach for x in true]


def test_a_damaged_file_and_a_bad_limit_are_one_line(
    hollow: Session, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_lake(hollow, tmp_path)
    assert run(["lake", "compare", str(tmp_path), "--memory", "much"]) == 2
    assert "no size of memory" in capsys.readouterr().err
    damaged = next((tmp_path / "detections").rglob("*.parquet"))
    damaged.chmod(0o600)
    damaged.write_bytes(damaged.read_bytes()[:100])
    assert run(["lake", "compare", str(tmp_path)]) == 3
    said = capsys.readouterr().err
    assert damaged.name in said and "camsign export lake" in said and "itself" not in said


def test_visits_are_those_of_each_logbook(lake: Path, hollow: Session, gore: Session) -> None:
    with open_lake(lake) as opened:
        answer = lake_visits(opened)
    found = {(r.property, r.season, r.buck_id, r.area_id): r for r in answer.rows}
    checked = 0
    for name, session in (("hollow", hollow), ("gore", gore)):
        for season in (2024, 2025):
            for row in visits(session, scope_of(session, season=season)).rows:
                if not row.visits:
                    continue
                same = found.pop((name, season, row.buck_id, row.area_id))
                for figure in FIGURES:
                    assert getattr(row, figure) == getattr(same, figure), (name, season, figure)
                checked += 1
    assert not found
    assert checked > 12


def test_compare_and_when_add_up(lake: Path, hollow: Session) -> None:
    with open_lake(lake) as opened:
        rows = {(r.property, r.season): r for r in lake_compare(opened).rows}
        when = lake_when(opened, "Split Brow", Wanted(("hollow",), (2025,)))
        whole = lake_visits(opened, Wanted(("hollow",), (2025,), ("Split Brow",)), "property")
    assert set(rows) == {(p, s) for p in ("hollow", "gore") for s in (2024, 2025)}
    by_camera = visits(hollow, scope_of(hollow, season=2025), "camera")
    one = rows["hollow", 2025]
    assert one.visits == sum(r.visits for r in by_camera.rows)
    assert one.camera_nights == sum(w.nights_watched for w in by_camera.watch.values())
    assert (one.bucks, one.mature, one.age_unknown) == (3, 2, 0)
    assert sum(r.visits for r in when.rows) == whole.rows[0].visits
    assert sum(r.days for r in when.rows) == whole.watch["hollow 2025"].days_watched
    assert all(r.seen <= r.days for r in when.rows)
    assert "Split Brow" in when.said


def test_what_a_lake_does_not_hold_is_said(lake: Path, tmp_path: Path, hollow: Session) -> None:
    with pytest.raises(UsageError, match="holds no lake"), open_lake(tmp_path):
        pass
    with open_lake(lake) as opened:
        with pytest.raises(UsageError, match="no property 'nowhere'"):
            lake_visits(opened, Wanted(("nowhere",)))
        with pytest.raises(UsageError, match="no season 1999; it holds 2024, 2025"):
            lake_visits(opened, Wanted(seasons=(1999,)))
        with pytest.raises(UsageError, match="did you mean 'Split Brow'"):
            lake_when(opened, "Split Brown")
        with pytest.raises(UsageError, match="no area"):
            lake_visits(opened, Wanted(areas=("Hemlok",)))
    (tmp_path / "logbook.toml").touch()
    with pytest.raises(InputRefused, match="is a logbook"):
        write_lake(hollow, tmp_path)


def test_a_lake_without_areas_and_sign_answers_too(tmp_path: Path) -> None:
    session = _property("hollow", 3)
    for table in ("areas", "area_pairs", "made_windows", "detections"):
        session.con.execute(f"DELETE FROM {table}")
    write_lake(session, tmp_path)
    with open_lake(tmp_path) as opened:
        assert lake_visits(opened).rows == ()
        assert [r.visits for r in lake_compare(opened).rows] == [0, 0]


def test_the_command_answers(lake: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["lake", "compare", str(lake), "--json"]) == 0
    assert {r["property"] for r in json.loads(capsys.readouterr().out)["rows"]} == {
        "hollow",
        "gore",
    }
    assert run(["lake", "visits", str(lake), "--by", "property", "--why"]) == 0
    assert "came most" in capsys.readouterr().out
    assert run(["lake", "when", str(lake), "Split Brow", "--csv"]) == 0
    assert capsys.readouterr().out.startswith("property,season,buck,")


FIFTY = """
COPY (
    SELECT 'property-' || (i % 10) AS property, (2021 + i // 10 % 5)::INTEGER AS season,
        printf('%016x', i) AS frame, 'c' || (i // 50 % 20) AS camera,
        'd' || (i // 50 % 20) AS deployment, 'b-' || (i // 1000 % 12) AS buck_id,
        'animal' AS what, 'deer' AS species, 'male' AS sex, NULL::VARCHAR AS sure,
        NULL::VARCHAR AS doubt, NULL::VARCHAR AS weak, 1 AS "count",
        make_timestamp(1000000 * (epoch(make_date(2021 + i // 10 % 5, 8, 1))::BIGINT
            + (i // 50) % 10368000)) AS utc,
        utc AS local, utc::DATE AS day, (utc - INTERVAL 12 HOUR)::DATE AS night,
        CASE WHEN hour(utc) BETWEEN 6 AND 17 THEN 'day' ELSE 'dark' END AS light
    FROM range({rows}) t(i)
) TO '{folder}/detections' (FORMAT parquet, PARTITION_BY (property, season))
"""


ASK = """
import re
from pathlib import Path
from camsign.answers.lake import open_lake
from camsign.answers.lake_compare import lake_compare
from camsign.answers.lake_when import lake_when
from camsign.answers.lake import Wanted
with open_lake(Path({lake!r}), {memory!r}) as lake:
    rows = lake_compare(lake).rows
    when = lake_when(lake, "Buck 3", Wanted(("property-3",))).rows
(one,) = (r for r in rows if (r.property, r.season) == ("property-3", 2023))
peak = re.search(r"VmHWM:\\s+(\\d+) kB", Path("/proc/self/status").read_text())
print(len(rows), one.visits, len(when), int(peak[1]) // 1024)
"""


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no peak memory to read")
def test_fifty_million_detections_in_bounded_memory(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = 50_000_000
    (tmp_path / "detections").mkdir()
    with duckdb.connect() as con:
        con.execute("SET memory_limit = '2GB'")
        con.execute(f"SET temp_directory = '{tmp_path / 'spill'}'")
        con.execute(FIFTY.format(rows=rows, folder=tmp_path))
        _rest_of(con, tmp_path)
    begun = time.perf_counter()
    ask = ASK.format(lake=str(tmp_path), memory="300MB")
    asked = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True)
    assert asked.returncode == 0, asked.stderr[-1000:]
    seasons, visits_there, months, peak_mb = map(int, asked.stdout.split())
    with capsys.disabled():
        print(f"\n{rows:,} detections: {time.perf_counter() - begun:.0f} s, peak {peak_mb} MB")
    # Counted by hand: what begins behind a gap of more than half an hour at one camera.
    expected = duckdb.execute(
        "WITH s AS (SELECT camera, buck_id, utc, epoch(utc - lag(utc) OVER (PARTITION BY camera,"
        " buck_id ORDER BY utc)) AS gap FROM read_parquet(?))"
        " SELECT count(*) FILTER (gap IS NULL OR gap > 1800) FROM s",
        [str(tmp_path / "detections/property=property-3/season=2023/*.parquet")],
    ).fetchone()
    assert expected is not None
    assert visits_there == expected[0] > 0
    assert (seasons, months > 0) == (50, True)
    assert peak_mb < 800  # the limit of 300 MB, and what Python and its libraries take


def _rest_of(con: duckdb.DuckDBPyConnection, folder: Path) -> None:
    """What a lake holds beside detections, as write_lake writes it."""
    tables = {
        "watch": "SELECT 'c' || i AS camera, 'd' || i AS deployment, s AS season,"
        " make_date(s, 8, 1) + n::INTEGER AS night, true AS watched, true AS day_watched,"
        " NULL::VARCHAR AS why, 0 AS unsorted, 0 AS day_unsorted, 0 AS set_aside"
        " FROM range(20) c(i), range(2021, 2026) y(s), range(120) d(n)",
        "deployments": "SELECT 'd' || i AS deployment, 'c' || i AS camera FROM range(20) t(i)",
        "reach": "SELECT 'Area ' || (i // 4) AS area, 'a' || (i // 4) AS area_id, 'd' || i AS"
        " deployment, 'c' || i AS camera, 10.0 AS distance_m FROM range(20) t(i)",
        "bucks": "SELECT 'b-' || i AS buck_id, 'Buck ' || i AS buck, 4.5 AS age, 2021 AS age_year,"
        " NULL::VARCHAR[] AS linked, NULL::DATE AS ended_on FROM range(12) t(i)",
        "properties": "SELECT 'p' AS property_id, 'p' AS name, 'UTC' AS tz,"
        " 7 AS season_start_month, 1 AS season_start_day, 200.0 AS reach_m, 1800.0 AS"
        " visit_gap_s, 3.5 AS mature_age",
        "visits": "SELECT 'x' AS area", "sign": "SELECT 'x' AS sign",
    }  # fmt: skip
    for table, sql in tables.items():
        for n in range(10):
            home = folder / table / f"property=property-{n}"
            home.mkdir(parents=True)
            if table == "watch":
                for season in range(2021, 2026):
                    inner = home / f"season={season}"
                    inner.mkdir()
                    con.execute(
                        f"COPY (SELECT * EXCLUDE (season) FROM ({sql}) WHERE season = {season})"
                        f" TO '{inner / 'watch.parquet'}' (FORMAT parquet)"
                    )
            else:
                con.execute(f"COPY ({sql}) TO '{home / 'one.parquet'}' (FORMAT parquet)")
