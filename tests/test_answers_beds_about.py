"""What the model of beds takes in when it is asked about some areas of a wide property."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from answers_world import World

from camsign.answers import beds_known
from camsign.answers.beds_input import BedsInput, read_season
from camsign.answers.beds_known import known_of
from camsign.answers.scope import scope_of

FIRST, LAST = date(2025, 10, 1), date(2025, 10, 20)
FAR_M = 9000.0


def _wide() -> World:
    """Two areas 9 km apart with a camera and a buck each; the first buck was once at the other."""
    world = World()
    world.buck("Near One", 5.5)
    world.buck("Far One", 5.5)
    world.area("Near", (0, 0), 80)
    world.area("Far", (FAR_M, 0), 80)
    near = world.camera("CAM01", (120, 0), FIRST, LAST)
    far = world.camera("CAM02", (FAR_M + 120, 0), FIRST, LAST)
    world.seen("b-near-one", near, "2025-10-05 07:10", "2025-10-06 17:40")
    world.seen("b-near-one", far, "2025-10-08 12:30")
    world.seen("b-far-one", far, "2025-10-05 07:10", "2025-10-06 17:40")
    for hung in (near, far):
        world.seen(None, hung, "2025-10-09 07:10")
    return world


def _read(world: World, *about: str) -> BedsInput:
    session = world.session()
    scope = scope_of(session, first=FIRST, last=LAST)
    ids = dict(session.con.execute("SELECT name, area_id FROM areas_now").fetchall())
    read = read_season(session, scope, FIRST, LAST, about=[ids[name] for name in about] or None)
    assert read is not None
    return read


def test_areas_and_bucks_out_of_range_are_left_out() -> None:
    read = _read(_wide(), "Near")
    assert [spot.name for spot in read.areas] == ["Near"]
    assert read.bucks.names == ("Near One",)
    assert len(read.evidence.nameless.day) == 1


def test_where_he_was_by_daylight_counts_however_far_off() -> None:
    read = _read(_wide(), "Near")
    (day,) = read.evidence.far[0, :, 0].nonzero()[0].tolist()
    assert read.first + timedelta(days=day) == date(2025, 10, 8)


def test_asked_about_all_nothing_is_left_out() -> None:
    world = _wide()
    some, every = _read(world, "Near", "Far"), _read(world)
    assert [s.name for s in some.areas] == [s.name for s in every.areas] == ["Far", "Near"]
    assert some.bucks == every.bucks
    assert (some.evidence.far == every.evidence.far).all()
    assert len(some.evidence.nameless.day) == len(every.evidence.nameless.day) == 2


def test_areas_that_lie_together_share_one_season() -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Bench", (0, 0), 80)
    world.area("Knob", (1500, 0), 80)
    hung = world.camera("CAM01", (120, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, "2025-10-05 07:10")
    session = world.session()
    scope = scope_of(session, first=FIRST, last=LAST)
    ids = [row[0] for row in session.con.execute("SELECT area_id FROM areas_now").fetchall()]
    whole, one = known_of(session, scope), known_of(session, scope, about=ids[:1])
    # The very same fit, from memory: its evidence is the same to the last bit.
    assert one.seasons[0][1] is whole.seasons[0][1]


def test_of_many_questions_the_last_are_kept_in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pages run for days: what was figured for the first ones goes first."""
    kept: dict[str, object] = {}
    monkeypatch.setattr(beds_known, "_IN_MEMORY", kept)
    monkeypatch.setattr(beds_known, "_MOST_IN_MEMORY", 2)
    monkeypatch.setattr(beds_known, "_digest", lambda read: read)
    monkeypatch.setattr(beds_known, "_load", lambda path: path.stem)
    session = SimpleNamespace(folder=SimpleNamespace(cache=Path("cache")))
    for key in ("a", "b", "a", "c", "d"):
        assert beds_known._kept(session, key) == key
    assert list(kept) == ["c", "d"]
