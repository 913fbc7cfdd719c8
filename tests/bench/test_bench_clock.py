"""How long an audit of 100 deployments with 100,000 frames takes, against reading those rows.

The baseline is the audit's own query alone: the rows out of DuckDB into numpy. Both are the best of
several runs in turn.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
from derive_world import book

from camsign.clock.audit import audit
from camsign.clock.audit_input import deployments, fetch, read
from camsign.derive.opening import open_logbook
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.sun import sun_height

pytestmark = pytest.mark.bench

CAMERAS, FRAMES = 100, 100_000


def fill(session: Session) -> None:
    """A season of bursts of three, the light by the sun; one clock in ten is off."""
    rng = np.random.default_rng(3)
    con, n = session.con, FRAMES // 3
    start = np.datetime64("2025-08-15T16:00:00", "s").astype("int64")
    camera = np.sort(rng.integers(0, CAMERAS, n))
    true = start + rng.integers(0, 120 * 86400, n)
    light = sun_height(44.1, -71.2, true.astype("datetime64[s]")) > rng.logistic(-2, 0.6, n)
    wrong = np.where(camera % 10 == 0, 3600 * 3, 0)
    burst = np.repeat(np.arange(n), 3)
    utc = (true + wrong)[burst] + np.tile([0, 2, 4], n)
    rows = {
        "id": np.arange(len(burst)), "camera": camera[burst], "burst": burst,
        "utc": utc.astype("datetime64[s]"), "light": light[burst],
    }  # fmt: skip
    con.register("made", rows)
    con.execute(
        "CREATE TEMP TABLE shot AS SELECT md5(id::VARCHAR)[:16] AS frame,"
        " 'CAM' || camera AS camera, 'k' || camera AS card,"
        " md5((burst * 3)::VARCHAR)[:16] AS burst, utc, light, row_number()"
        " OVER (PARTITION BY camera ORDER BY utc, id) AS number FROM made"
    )
    con.execute(
        "INSERT INTO frames BY NAME SELECT frame, card, 'DCIM/100CAMS/IMG_' ||"
        " lpad(number::VARCHAR, 5, '0') || '.JPG' AS card_path,"
        " strftime(utc - INTERVAL 4 HOUR, '%Y-%m-%dT%H:%M:%S') AS shown FROM shot"
    )
    con.execute(
        "INSERT INTO looks BY NAME SELECT frame, if(light, 'colour', 'infrared') AS light,"
        " 100.0 AS brightness FROM shot"
    )
    con.execute(
        "INSERT INTO frame_times BY NAME SELECT frame, camera, 'd-' || camera AS deployment, utc,"
        " burst FROM shot"
    )
    con.execute(
        "INSERT INTO cards BY NAME SELECT DISTINCT card, camera, 'f' || card AS folder,"
        " TIMESTAMP '2026-01-01' AS taken_in_utc FROM shot"
    )
    con.execute(
        "INSERT INTO deployments BY NAME SELECT DISTINCT 'd-' || camera AS deployment, camera,"
        " 44.1 AS lat, -71.2 AS lon, TIMESTAMP '2025-08-15 12:00' AS hung, 'hung' AS clock"
        " FROM shot"
    )


def took(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def test_an_audit_takes_less_than_ten_times_reading_its_rows(tmp_path: Path) -> None:
    home: Folder = book(tmp_path / "b")
    with open_logbook(home) as session:
        fill(session)
        con = session.con
        cards = con.execute("SELECT card, camera FROM cards ORDER BY camera, card").fetchall()
        cameras, hung = sorted({c for _, c in cards}), deployments(session)
        ids = [d.deployment for d in hung]
        rows, whole = [], []
        for _ in range(5):
            rows.append(took(lambda: fetch(session, cameras, [c for c, _ in cards], ids)))
            whole.append(took(lambda: audit(read(session))))
        found = audit(read(session))
    assert len(found) == CAMERAS
    assert sum(f.verdict == "off" for f in found) == CAMERAS // 10
    assert {f.verdict for f in found} == {"off", "right"}
    base, ours = min(rows), min(whole)
    print(f"\nread: {base * 1000:.0f} ms, audit: {ours * 1000:.0f} ms, {ours / base:.1f}x")
    assert ours < 10 * base
