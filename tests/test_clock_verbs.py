"""Clocks put right in a logbook on disk: by people, and by the sun with their consent."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows, say

from camsign.clock import verbs
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.logbook.history import undo
from camsign.sun import sun_height
from camsign.units import parse_when

PLACE = (44.1, -71.2)


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    return book(tmp_path / "book")


@pytest.fixture
def one(home: Folder) -> Folder:
    """CAM1 with three frames by the default rule, -04:00."""
    put_card(home, "k", "CAM1", [Shot(f"2025-10-0{d}T12:00:00") for d in (1, 2, 3)])
    say(home, hang("CAM1", "2025-09-20T12:00:00Z", "2025-11-20T12:00:00Z"))
    return home


def utc(home: Folder) -> list[datetime]:
    return [r[0] for r in rows(home, "SELECT utc FROM frame_times ORDER BY utc")]


def hours(home: Folder) -> list[float]:
    """UTC of the frames at noon, less noon [h]."""
    return [t.hour + t.minute / 60 - 12 for t in utc(home)]


def put_right(home: Folder, camera: str = "CAM1", **how) -> verbs.ClockSaid:
    for name in ("start", "stop"):
        if name in how:
            how[name] = parse_when(how[name])
    if "pairs" in how:
        how["pairs"] = [(shown, parse_when(true)) for shown, true in how["pairs"]]
    with open_logbook(home) as s:
        return verbs.set_clock(s, camera, **how)


@pytest.mark.thorough
def test_a_pair_is_an_offset_for_its_deployment(one: Folder) -> None:
    said = put_right(one, pairs=[("2025-10-01 12:00", "2025-10-01 13:30")])
    assert (said.deployment, said.kind, said.frames) == ("d-CAM1", "pairs", 3)
    assert hours(one) == [5.5, 5.5, 5.5]
    assert rows(one, "SELECT DISTINCT basis FROM frame_times") == [
        (f"correction {said.clock_fix}",)
    ]


@pytest.mark.thorough
def test_pairs_are_a_drift(one: Folder) -> None:
    pairs = [("2025-10-01 12:00", "2025-10-01 12:00"), ("2025-10-03 12:00", "2025-10-03 12:10")]
    put_right(one, pairs=pairs)
    assert hours(one) == pytest.approx([4, 4 + 5 / 60, 4 + 10 / 60])
    assert rows(one, "SELECT count(*) FROM frame_times WHERE doubt IS NOT NULL") == [(0,)]
    put_right(one, pairs=[pairs[0], ("2025-10-02 12:00", "2025-10-02 12:05")])
    assert rows(one, "SELECT doubt FROM frame_times ORDER BY utc") == [
        (None,), (None,), ("estimated",),
    ]  # fmt: skip


def test_a_reference_picture_says_what_was_shown(one: Folder) -> None:
    frame, sha = rows(one, "SELECT frame, sha256 FROM frames ORDER BY shown")[0]
    put_right(one, pairs=[(frame[:12], "2025-10-01T17:00:00Z")])
    assert hours(one) == [5, 5, 5]
    put_right(one, pairs=[(sha, "2025-10-01T18:00:00Z")])
    assert hours(one) == [6, 6, 6]
    with pytest.raises(UsageError, match="not in this logbook"):
        put_right(one, pairs=[("0" * 12, "2025-10-01T18:00:00Z")])


def test_offset_shift_and_local_for_a_span_of_what_was_shown(one: Folder) -> None:
    said = put_right(one, utc_offset="-05:00", start="2025-10-02", stop="2025-10-02")
    assert (said.deployment, said.frames) == (None, 1)
    assert hours(one) == [4, 5, 4]
    put_right(one, shift_s=-1800.0, start="2025-10-03")
    assert hours(one) == [4, 5, 3.5]
    put_right(one, follows_local=True, deployment="d-CAM1")
    assert hours(one) == [4, 4, 4]
    kinds = []
    with open_logbook(one) as s:
        for c in verbs.corrections(s, "cam1"):
            kinds.append((c.kind, c.deployment, c.clock_from, c.clock_until))
    assert sorted(kinds, key=repr) == [
        ("local", "d-CAM1", None, None),
        ("shift", None, datetime(2025, 10, 3), None),
        ("utc_offset", None, datetime(2025, 10, 2), datetime(2025, 10, 3)),
    ]


@pytest.mark.thorough
def test_a_correction_taken_back_or_removed_leaves_no_trace(one: Folder) -> None:
    before = derived(one)
    put_right(one, shift_s=3600.0)
    assert derived(one) != before
    with open_logbook(one) as s:
        undo(s)
    assert but_lines(derived(one)) == but_lines(before)
    said = put_right(one, shift_s=3600.0)
    with open_logbook(one) as s:
        verbs.remove_correction(s, said.clock_fix[:6])
    assert derived(one) == rebuilt(one)
    assert but_lines(derived(one)) == but_lines(before)


REFUSED: list[tuple[dict, str]] = [
    ({}, "exactly one way"),
    ({"utc_offset": "-05:00", "shift_s": 5.0}, "exactly one way"),
    ({"utc_offset": "hung"}, "no offset"),
    ({"utc_offset": "noonish"}, "no clock rule"),
    ({"shift_s": float("inf")}, "200 years"),
    ({"shift_s": float("nan")}, "200 years"),
    ({"shift_s": 73_000 * 86_400 + 1.0}, "200 years"),
    ({"shift_s": -73_000 * 86_400 - 1.0}, "200 years"),
    ({"shift_s": 5.0, "deployment": "d-none"}, "no deployment d-none"),
    ({"shift_s": 5.0, "start": "2025-10-02", "stop": "2025-10-01"}, "must end after"),
    ({"shift_s": 5.0, "start": "2025-10-02T00:00Z"}, "has none"),
    ({"pairs": [("2025-10-02", "2025-10-02 12:00")]}, "no clock reading"),
    ({"pairs": [("noon", "2025-10-02 12:00")]}, "isn't a date or time"),
    (
        {"pairs": [("2025-10-01 12:00", "2025-10-01 12:00"),
                   ("2025-10-01 12:00", "2025-10-01 13:00")]},
        "two true times",
    ),
    (
        {"pairs": [("2025-10-01 12:00", "2025-10-01 12:00"),
                   ("2025-10-02 12:00", "2025-10-09 12:00")]},
        "no clock drifts",
    ),
]  # fmt: skip


def test_what_cannot_be_is_refused_and_nothing_said(one: Folder) -> None:
    acts = rows(one, "SELECT count(*) FROM acts")
    for how, why in REFUSED:
        with pytest.raises(UsageError, match=why):
            put_right(one, **how)
    assert rows(one, "SELECT count(*) FROM acts") == acts
    put_right(one, shift_s=73_000 * 86_400.0)
    assert rows(one, "SELECT count(*) FROM acts") > acts


def test_which_deployment_is_meant(home: Folder) -> None:
    say(
        home,
        hang("CAM1", "2025-09-01T00:00:00Z", "2025-10-01T00:00:00Z", "d-1"),
        hang("CAM1", "2025-10-01T00:00:00Z", None, "d-2"),
    )
    with pytest.raises(UsageError, match="hung 2 times"):
        put_right(home, shift_s=60.0)
    with pytest.raises(UsageError, match="never hung"):
        put_right(home, camera="CAM9", shift_s=60.0)
    said = put_right(home, pairs=[("2025-10-05 12:00", "2025-10-05 13:00")])
    assert said.deployment == "d-2"


def season(home: Folder, camera: str, shown_from, n: int = 500, seed: int = 1) -> list[str]:
    """A season of n single frames with light by the sun, the clock as a function of true time."""
    rng = np.random.default_rng(seed)
    start = np.datetime64("2025-09-15T00:00:00", "s").astype("int64")
    true = np.sort(start + rng.integers(0, 100 * 86400, n))
    light = sun_height(*PLACE, true.astype("datetime64[s]")) > rng.logistic(-2, 0.6, n)
    shown = np.asarray(shown_from(true)).astype("int64").astype("datetime64[s]")
    shots = [
        Shot(str(s), light="colour" if day else "infrared")
        for s, day in zip(shown, light, strict=True)
    ]
    frames = put_card(home, f"k-{camera}", camera, shots, "2026-01-10T12:00:00Z")
    say(home, hang(camera, "2025-09-14T12:00:00Z", "2025-12-30T12:00:00Z", at=PLACE))
    return frames


AHEAD = 3600 * 5 - 4 * 3600  # a clock at -04:00 that is five hours fast


@pytest.mark.thorough
def test_audit_and_apply_change_every_answer_and_undo_brings_it_back(home: Folder) -> None:
    frames = season(home, "FAST", lambda t: t + AHEAD)
    season(home, "GOOD", lambda t: t - 4 * 3600, seed=2)
    say(home, TagFrames(Subject("buck", "b-1"), frames[::5]))
    say(home, SetFields("area", "a-1", {"name": "Bench", "kind": "bedding", "shape": {
        "circle": [*PLACE, 80]}}))  # fmt: skip
    before = derived(home)
    with open_logbook(home) as s:
        found = {f.camera: f for f in verbs.audit(s)}
        assert (found["FAST"].verdict, found["GOOD"].verdict) == ("off", "right")
        assert found["FAST"].offset_minutes.value == pytest.approx(300, abs=20)
        assert derived_is(s, before)
        done = verbs.apply(s, list(found.values()))
    assert (done.corrections, done.deployments) == (1, ("d-FAST",))
    (fix,) = rows(home, "SELECT camera, kind, value::DOUBLE, reason FROM clock_fixes")
    assert fix[:3] == ("FAST", "shift", -18000.0)
    assert "bursts" in fix[3]
    after = derived(home)
    for table in ("frame_times", "detections", "clock_pieces"):
        assert after[table] != before[table], table
    daylight = "SELECT count(*) FROM detections WHERE in_daylight"
    lit = rows(home, daylight)
    with open_logbook(home) as s:
        assert {f.verdict for f in verbs.audit(s)} == {"right"}
        assert verbs.apply(s, verbs.audit(s)).corrections == 0
        undo(s)
    assert but_lines(derived(home)) == but_lines(before)
    assert rows(home, daylight) != lit


def but_lines(tables: dict) -> dict:
    """All but how many lines were read, which an undo adds to."""
    return {name: rows for name, rows in tables.items() if name != "lines_read"}


def derived_is(session, before: dict) -> bool:
    """Whether an audit left the tables of an open session as they were."""
    found = session.con.execute("SELECT * FROM frame_times ORDER BY ALL").fetchall()
    return found == before["frame_times"]


@pytest.mark.thorough
def test_a_corrected_clock_that_is_still_wrong_is_corrected_further(home: Folder) -> None:
    season(home, "FAST", lambda t: t + AHEAD)
    put_right(home, camera="FAST", shift_s=-3600.0)
    with open_logbook(home) as s:
        (found,) = verbs.audit(s)
        assert found.offset_minutes.value == pytest.approx(240, abs=20)
        verbs.apply(s, [found])
    with open_logbook(home) as s:
        (found,) = verbs.audit(s)
    assert found.verdict == "right"


@pytest.mark.thorough
def test_a_reset_clock_is_placed_and_marked_estimated(home: Folder) -> None:
    begun = np.datetime64("2019-01-01T00:00:00", "s").astype("int64")

    def shown(true):
        first = true[200]
        return np.where(np.arange(len(true)) < 200, true - 4 * 3600, true - first + begun)

    season(home, "RESET", shown)
    assert rows(home, "SELECT count(*) FROM frame_times WHERE deployment IS NULL") == [(300,)]
    with open_logbook(home) as s:
        verbs.apply(s, verbs.audit(s))
    counts = "SELECT count(*) FILTER (deployment IS NULL), count(*) FILTER (doubt = 'estimated')"
    assert rows(home, f"{counts} FROM frame_times") == [(0, 300)]
    with open_logbook(home) as s:
        assert [f.verdict for f in verbs.audit(s)] == ["right", "right"]


def test_years_that_cannot_be_do_not_stop_an_audit(home: Folder) -> None:
    odd = ["0001-01-01T00:00:00", "1950-06-01T12:00:00", "1970-01-01T00:00:00", None,
           "2025-10-01T12:00:00", "2099-12-31T23:59:59", "9999-12-31T23:59:59"]  # fmt: skip
    put_card(home, "k", "CAM1", [Shot(shown) for shown in odd * 6])
    put_card(home, "k2", "CAM2", [Shot(None), Shot("0001-01-01T00:00:00")])
    say(home, hang("CAM1", "2025-09-20T12:00:00Z", "2025-11-20T12:00:00Z"))
    with open_logbook(home) as s:
        found = verbs.audit(s)
        verbs.apply(s, found)
    assert {f.camera for f in found} == {"CAM1"}
    assert {f.verdict for f in found} <= {"cannot tell", "reset", "impossible date"}
    with open_logbook(home) as s:
        assert verbs.audit(s)


def test_an_unknown_camera_is_one_clear_line(home: Folder) -> None:
    with open_logbook(home) as s:
        with pytest.raises(UsageError, match="no camera 'CAM7'"):
            verbs.audit(s, "CAM7")
        assert verbs.audit(s) == []
