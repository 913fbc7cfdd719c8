"""Is anything there: rendered seasons and a real sequence; which way; did the camera move."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from pixels_views import crossings, false_alarms, sequence, view
from pixels_world import rows_of
from scenes import Deer, Grid, Shot, Weather, Woods, season, shoot

from camsign.pixels.changes import Change, Glanced, changes, usual_strips
from camsign.pixels.glance import pack
from camsign.pixels.news import news
from camsign.pixels.planes import FramePlanes, nth_smallest, planes_of
from camsign.pixels.scores import THRESHOLDS, empty_score
from camsign.pixels.steady import moves
from camsign.pixels.travel import heading_of


@pytest.fixture(scope="module")
def calm() -> tuple[list[Shot], list[Change]]:
    shots = list(season(41, triggers=90, kind="calm", animals=0.3))
    return shots, rows_of(shots)


def score(shot: Shot, row: Change) -> float:
    return empty_score(row.news, THRESHOLDS[shot.light])


@pytest.mark.thorough
def test_calm_empties_are_set_aside_and_animals_are_not(
    calm: tuple[list[Shot], list[Change]],
) -> None:
    shots, rows = calm
    empty = [score(s, r) > 0.5 for s, r in zip(shots, rows, strict=True) if s.animal is False]
    kept = [score(s, r) <= 0.5 for s, r in zip(shots, rows, strict=True) if s.animal]
    assert len(kept) > 60
    assert np.mean(kept) >= 0.99
    assert np.mean(empty) >= 0.8


@pytest.mark.thorough
def test_a_deer_that_stands_still_through_its_bursts_is_found_where_it_is(
    calm: tuple[list[Shot], list[Change]],
) -> None:
    shots, rows = calm
    inside = []
    for shot, row in zip(shots, rows, strict=True):
        deer = shot.deer
        if not shot.animal or shot.heading or deer is None or row.box_x is None:
            continue
        assert row.box_y is not None and row.box_width is not None and row.box_height is not None
        x = (row.box_x <= deer.x + 0.45 * deer.height) and (
            row.box_x + row.box_width >= deer.x - 0.45 * deer.height
        )
        y = row.box_y <= deer.y and row.box_y + row.box_height >= deer.y - deer.height
        inside.append(x and y)
    assert len(inside) > 40
    assert np.mean(inside) >= 0.95


@pytest.mark.thorough
def test_the_same_frames_give_the_same_rows_and_too_few_say_nothing(
    calm: tuple[list[Shot], list[Change]],
) -> None:
    shots, rows = calm
    assert rows_of(shots) == rows
    lone = rows_of(shots[:6])
    assert all(r.news is None and empty_score(r.news, 1.0) == 0 for r in lone)


@pytest.mark.thorough
def test_wind_sets_fewer_aside_and_still_loses_hardly_an_animal() -> None:
    shots = list(season(52, triggers=80, kind="windy", animals=0.3))
    rows = rows_of(shots)
    kept = [score(s, r) <= 0.5 for s, r in zip(shots, rows, strict=True) if s.animal]
    empty = [score(s, r) > 0.5 for s, r in zip(shots, rows, strict=True) if s.animal is False]
    assert np.mean(kept) >= 0.97
    assert np.mean(empty) >= 0.3


def test_the_real_leaves_are_less_news_than_the_real_hand(samples: Path) -> None:
    # OpenCV's sample sequence: leaves that move in the wind; from frame 54 on a hand (LABELS.csv).
    news_of, hand = sequence(samples / "sequences" / "tree")
    found, subject = np.array(news_of), np.array(hand)
    assert found[subject].min() > THRESHOLDS["colour"]
    assert found[subject].min() > np.quantile(found[~subject], 0.9)
    # Leaves without a pause: no animal is learned as background, so most of these are kept too.
    assert np.mean(found[~subject] < THRESHOLDS["colour"]) >= 0.25


@pytest.mark.thorough
def test_travel_is_right_in_95_of_100_rendered_crossings() -> None:
    found = [c for seed in range(700, 706) for c in crossings(seed)]
    right = [all(row.way == way for row in rows) for way, rows in found]
    assert len(right) == 48
    assert np.mean(right) >= 0.95


def test_a_way_becomes_a_bearing_across_the_line_of_sight() -> None:
    assert heading_of("right", 0.0).travel_deg == 90.0
    assert heading_of("left", 0.0).travel_deg == 270.0
    assert heading_of("right", 300.0).travel_deg == 30.0
    assert heading_of("left", 10.0).estimated


@pytest.mark.thorough
def test_a_shift_of_5_pixels_in_320_is_found_with_its_size() -> None:
    for seed in range(16):
        angle = seed * 0.7
        right, down = 5 * np.cos(angle), 5 * np.sin(angle)
        found = moves(view(seed, 14, 1.0, (7, right, down, 0.0)))
        assert len(found) == 1, (seed, found)
        assert abs(found[0].at - 7) <= 3
        assert found[0].right * 320 == pytest.approx(right, abs=1.2)
        assert found[0].down * 240 == pytest.approx(down, abs=1.2)


@pytest.mark.thorough
def test_a_turn_is_found_with_its_angle_and_a_covered_view_is_said_to_be() -> None:
    for turn in (3.0, 8.0, -20.0):
        found = moves(view(61, 14, 1.0, (7, 0.0, 0.0, turn)))
        assert [m.kind for m in found] == ["turned"]
        assert found[0].turn_deg == pytest.approx(turn, abs=0.5)
    for seed in (71, 72):
        assert [m.kind for m in moves(view(seed, 14, 1.0, covered=7))] == ["covered"]


@pytest.mark.thorough
def test_windy_and_snowed_in_cameras_that_did_not_move_are_left_in_peace() -> None:
    assert false_alarms(range(100, 120)) == []


@pytest.mark.long
def test_of_200_windy_cameras_that_did_not_move_at_most_4_are_said_to_have() -> None:
    assert len(false_alarms(range(1000, 1200))) <= 4


def test_what_a_camera_saw_before_it_moved_explains_nothing_after() -> None:
    rng = np.random.default_rng(9)
    woods, frames = Woods(9), []
    for burst in range(24):
        shift = (0.0, 0.0) if burst < 12 else (40.0, 6.0)
        for i in range(2):
            w = Weather(sun=0.1, hour=8 + burst % 10, sway=0.3, shift=shift)
            gray = cv2.cvtColor(shoot(woods, rng, w)[0], cv2.COLOR_BGR2GRAY)
            frames.append(Glanced(f"{burst}-{i}", burst * 3600.0 + i, str(burst), pack(gray)))
    rows = changes(frames)
    later = [r.news for r in rows[26:] if r.news is not None]
    assert len(later) == len(rows[26:])
    assert np.median(later) < THRESHOLDS["colour"]


def test_strips_count_if_a_fifth_of_the_pictures_show_them() -> None:
    there = '{"strip_top": 0, "strip_bottom": 24, "rows": 240}'
    not_there = '{"strip_top": 0, "strip_bottom": 0, "rows": 240}'
    assert usual_strips([there] + [not_there] * 4) == (0.0, 0.1)
    assert usual_strips([there] + [not_there] * 9) == (0.0, 0.0)
    assert usual_strips(["{}"]) == (0.0, 0.0)


def test_a_box_is_given_in_the_whole_picture_also_where_strips_are_printed() -> None:
    rng, woods, found = np.random.default_rng(5), Woods(5), []
    tall, there = 24, '{"strip_top": 24, "strip_bottom": 24, "rows": 288}'
    for burst in range(12):
        deer = Deer(0.3, 0.5, 0.9, 1, 0.0, 45.0) if burst == 11 else None
        pixels = shoot(woods, rng, Weather(sun=0.1, hour=12, sway=0.3), "colour", deer)[0]
        gray = cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)
        framed = cv2.copyMakeBorder(gray, tall, tall, 0, 0, cv2.BORDER_CONSTANT, value=0)
        found.append(Glanced(str(burst), burst * 3600.0, str(burst), pack(framed), there))
    row = changes(found)[-1]
    assert row.box_y is not None and row.box_height is not None
    top, bottom = (tall + 240 * 0.6) / 288, (tall + 240 * 0.9) / 288
    assert row.box_y == pytest.approx(top, abs=0.04)
    assert row.box_y + row.box_height == pytest.approx(bottom, abs=0.06)


@settings(max_examples=15, deadline=None)
@given(
    hnp.arrays(np.uint8, st.tuples(st.integers(6, 12), st.integers(1, 40), st.integers(1, 40))),
    st.booleans(),
)
def test_any_glances_of_any_size_give_rows(stack: Grid, paired: bool) -> None:
    frames = [
        Glanced(str(i), i * 3600.0, str(i // 2 if paired else i), pack(g))
        for i, g in enumerate(stack)
    ]
    frames.insert(3, Glanced("none", 3 * 3600.0 + 1, "none", b""))
    frames.insert(4, Glanced("odd", 3 * 3600.0 + 2, "odd", pack(np.zeros((50, 77), np.uint8))))
    rows = changes(frames)
    assert [r.frame for r in rows] == [f.frame for f in frames]
    assert all(r.news is None or r.news >= 0 for r in rows)
    assert rows[3].news is None


def test_news_of_identical_frames_is_none_at_all() -> None:
    gray = cv2.cvtColor(shoot(Woods(4), np.random.default_rng(4), Weather())[0], 6)
    frames = [FramePlanes(i * 3600.0, i, planes_of(gray)) for i in range(8)]
    for found in news(frames):
        assert found is not None
        assert found.fresh.max() == 0
        assert found.rare is None or found.rare.map.max() == 0


@given(seed=st.integers(0, 1000), n=st.integers(1, 64), most=st.sampled_from([2, 20, 256]))
def test_the_nth_smallest_is_what_sorting_gives(seed: int, n: int, most: int) -> None:
    rng = np.random.default_rng(seed)
    planes = rng.integers(0, most, (n, 5, 7)).astype(np.uint8)
    rank = int(rng.integers(0, n))
    assert np.array_equal(nth_smallest(planes, rank), np.sort(planes, axis=0)[rank])
