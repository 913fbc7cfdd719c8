"""Cameras that were moved: the picture, the amount, both lights joined, kept and made again."""

from __future__ import annotations

import json
import shutil
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pytest
from derive_world import book, hang, say
from pixels_views import view
from pixels_world import put_shots
from scenes import Shot, Weather, Woods, shoot

from camsign.cli.app import run
from camsign.derive.comparing import compare
from camsign.derive.opening import open_logbook
from camsign.flows.intake.since_last_check import since_last_check
from camsign.logbook.folder import Folder
from camsign.page.cameras import cameras
from camsign.pixels.moved_cameras import moved_cameras, plan_moves
from camsign.pixels.viewmoves import ViewMove, view_moves


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(400, 403))
def test_a_shift_of_5_pixels_in_320_is_found_at_its_very_picture(seed: int) -> None:
    right, down = 5 * np.cos(seed), 5 * np.sin(seed)
    (found,) = view_moves(view(seed, 14, 1.0, (7, right, down, 0.0)))
    assert (found.last, found.first, found.kind) == (6, 7, "shifted")
    assert found.right * 320 == pytest.approx(right, abs=1.2)
    assert found.down * 240 == pytest.approx(down, abs=1.2)


@pytest.mark.thorough
@pytest.mark.parametrize("turn", [3.0, -20.0])
def test_a_turn_is_measured_and_a_covered_view_has_no_amount(turn: float) -> None:
    (found,) = view_moves(view(61, 14, 1.0, (7, 4.0, 0.0, turn)))
    assert (found.first, found.kind) == (7, "turned")
    assert found.turn_deg == pytest.approx(turn, abs=0.5)
    assert view_moves(view(71, 14, 1.0, covered=7)) == [ViewMove(6, 7, "covered", 0, 0, 0)]


@pytest.mark.thorough
def test_wind_and_snow_move_no_camera_and_few_pictures_say_nothing() -> None:
    for seed in (300, 301):
        assert view_moves(view(seed, 14, 4.0, snow=5 if seed % 2 else None)) == []
    assert view_moves(view(1, 5, 1.0, (2, 30.0, 0.0, 0.0))) == []


@pytest.mark.long
def test_of_50_long_windy_or_snowy_deployments_at_most_one_is_said_to_have_moved() -> None:
    found = [s for s in range(50) if view_moves(view(s, 40, 4.0, snow=15 if s % 3 == 0 else None))]
    assert len(found) <= 1


def shots(seed: int, knocked: int, n: int = 16) -> list[Shot]:
    """One picture by day and one by night, day after day; from picture `knocked` on moved."""
    rng, woods, out = np.random.default_rng(seed), Woods(seed), []
    for i in range(n):
        light = "infrared" if i % 2 else "colour"
        shift = (16.0, -6.0) if i >= knocked else (0.0, 0.0)
        w = Weather(sun=0.2, hour=12, sway=0.5, shift=shift)
        at = datetime(2030, 10, 1, 12) + timedelta(hours=12 * i)
        out.append(Shot(at, i, light, shoot(woods, rng, w, light)[0], 0.0, None))
    return out


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    made = book(tmp_path_factory.mktemp("moved") / "book")
    put_shots(made, "c1", "CAM01", shots(5, 9))
    put_shots(made, "c2", "CAM02", shots(6, 99, 12))
    say(made, hang("CAM01", "2030-09-01T00:00:00Z", id="d1"))
    compare(made)
    return made


def listed(capsys: pytest.CaptureFixture[str], home: Folder, *words: str) -> Any:
    capsys.readouterr()
    assert run(["--logbook", str(home.root), "cards", "moved", *words, "--json"]) == 0
    return json.loads(capsys.readouterr().out)["rows"]


@pytest.mark.thorough
def test_both_lights_tell_of_one_move_in_the_narrower_span(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    (found,) = listed(capsys, home)
    assert (found["camera"], found["deployment"], found["kind"]) == ("CAM01", "d1", "shifted")
    # Picture 8 (by day, noon) is the last one as before, picture 9 (midnight) the first moved.
    assert found["after"][:16] == "2030-10-05T12:00"
    assert found["before"][:16] == "2030-10-06T00:00"
    assert found["right"] == pytest.approx(16 / 320, abs=0.004)
    assert found["down"] == pytest.approx(-6 / 240, abs=0.005)
    assert listed(capsys, home, "--camera", "cam02") == []
    assert run(["--logbook", str(home.root), "cards", "moved"]) == 0
    words = "CAM01 got bumped between Oct 5, 2030, 12:00 PM and Oct 6, 2030, 12:00 AM"
    assert f"{words}: what it sees moved 5% to the right, " in capsys.readouterr().out


@pytest.mark.thorough
def test_nothing_is_looked_for_twice_and_a_lost_cache_changes_nothing(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    before = listed(capsys, home)
    with open_logbook(home) as session:
        assert plan_moves(session).wanted == ()
    shutil.rmtree(home.cache)
    home.cache.mkdir()
    with open_logbook(home) as session:
        assert len(plan_moves(session).wanted) == 4
        assert moved_cameras(session) == []
    assert listed(capsys, home) == before


@pytest.mark.thorough
def test_the_check_of_a_camera_tells_that_it_moved(home: Folder) -> None:
    compare(home)
    with open_logbook(home) as session:
        told = since_last_check(session, "CAM01", ["c1"], False)
        still = since_last_check(session, "CAM02", ["c2"], False)
    (words,) = told.moved
    assert words.startswith("got bumped between 2030-10-05")
    assert any(line.startswith("it got bumped: straighten it, or save") for line in told.next_steps)
    assert still.moved == ()


@pytest.mark.thorough
def test_the_cards_page_shows_it_beside_the_camera(home: Folder) -> None:
    compare(home)
    with open_logbook(home) as session:
        shown = {c.camera: c for c in cameras(session, None)[0]}
    assert [m.kind for m in shown["CAM01"].moved] == ["shifted"]
    assert shown["CAM02"].moved == []
