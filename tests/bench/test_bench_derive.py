"""What one tag costs in a logbook of 200,000 frames, and making everything again.

Ratios against DuckDB's own work on the same rows in the same run: copying the tags table once.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
from derive_world import book

from camsign.derive import opening
from camsign.derive.opening import open_logbook
from camsign.logbook.far import Far
from camsign.logbook.session import Session

pytestmark = pytest.mark.bench

CAMERAS, FRAMES = 100, 2000


def fill(session: Session) -> None:
    """100 cameras of 2,000 frames over 170 days, each frame tagged; 2,000 signs near by."""
    con = session.con
    con.execute(
        "INSERT INTO cards BY NAME SELECT 'k' || i AS card, 'CAM' || i AS camera, 'f' || i AS"
        f" folder, TIMESTAMP '2026-06-01' AS taken_in_utc FROM range({CAMERAS}) t(i)"
    )
    con.execute(
        "INSERT INTO deployments_said BY NAME SELECT 'd-' || i AS deployment, 'CAM' || i AS camera,"
        " 44.1 + 0.0001 * (i % 50) AS lat, -71.2 + 0.0002 * (i // 50) AS lon, TIMESTAMP"
        " '2025-08-01' AS hung, TIMESTAMP '2026-01-20' AS taken_down, 'hung' AS clock"
        f" FROM range({CAMERAS}) t(i)"
    )
    con.execute(
        "INSERT INTO frames BY NAME SELECT md5(i || '/' || j)[:16] AS frame, 'k' || i AS card,"
        " 'DCIM/100CAMS/IMG_' || lpad(j::VARCHAR, 4, '0') || '.JPG' AS card_path,"
        " strftime(TIMESTAMP '2025-08-01 06:00:00' + to_seconds(j * 7344 + hash(i * 7919 + j)"
        f" % 300), '%Y-%m-%dT%H:%M:%S') AS shown FROM range({CAMERAS}) t(i), range({FRAMES}) u(j)"
    )
    con.execute(
        "INSERT INTO tags BY NAME SELECT frame, 'deer///' AS subject, 'deer' AS what FROM frames"
    )
    con.execute(
        "INSERT INTO signs BY NAME SELECT 's-' || i AS sign, 'rub' AS kind, 44.1 + 0.00005 * (i %"
        " 200) AS lat, -71.2 + 0.0001 * (i // 200) AS lon FROM range(2000) t(i)"
    )
    con.execute(
        "INSERT INTO touched SELECT DISTINCT 'camera', camera FROM cards"
        " UNION ALL SELECT 'sign', sign FROM signs"
    )


def derive(session: Session) -> None:
    opening.derive(session, Far(None))


def took(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def test_one_tag_and_everything_again(tmp_path: Path) -> None:
    with open_logbook(book(tmp_path / "b")) as session:
        con = session.con
        fill(session)
        everything = took(lambda: derive(session))
        row = con.execute("SELECT count(*), min(frame) FROM detections").fetchone()
        assert row is not None
        assert row[0] == CAMERAS * FRAMES
        copy = "CREATE OR REPLACE TEMP TABLE copied AS SELECT * FROM tags"
        base = min(took(lambda: con.execute(copy)) for _ in range(5))
        con.execute("DELETE FROM touched")
        con.execute("INSERT INTO touched VALUES ('frame', ?)", [row[1]])
        tag = min(took(lambda: derive(session)) for _ in range(5))
        again = con.execute("SELECT count(*) FROM detections").fetchone()
        assert again == (CAMERAS * FRAMES,)
    print(
        f"\none tag: {tag * 1000:.0f} ms, {tag / base:.1f}x of copying the tags; everything:"
        f" {everything:.1f} s for {CAMERAS * FRAMES} frames"
    )
    # About 25 ms where this was written; what matters is that it does not grow with the frames.
    assert tag < 10 * base + 0.1
    assert everything < 300 * base + 10
