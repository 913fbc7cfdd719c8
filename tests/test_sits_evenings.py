"""Evenings played: geometry worked out by hand, mirrors, winds from each side, cold air at dusk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camsign.air.spread import Scent
from camsign.sits import evenings
from camsign.sits.evenings import (
    ASIDE_M,
    SLOW_MS,
    STRAYS_DEG,
    Air,
    Bed,
    Hours,
    Played,
    Sit,
    Stand,
    Walk,
    Way,
)

BED = Bed(0.0, 0.0, 50.0)
EAST = Way(50.0, 0.0, 90.0, 0.0)
# He leaves an hour before sunset to the minute, so that light never decides.
EARLY = Hours(-60.0, 0.1)
STAND = Stand(150.0, 10.0, 30.0)


@dataclass(frozen=True)
class Aired:
    """When one sits, with the air at each step."""

    airs: tuple[Air, ...]
    morning: bool = False
    arrive: float = -150.0
    first: float = -240.0
    last: float = 30.0


def _sit(toward: float | None, half: float = 30.0, doubt: float = 0.1) -> Aired:
    return Aired(tuple(Air(Scent(toward, half, doubt)) for _ in range(19)))


def play(
    seed: int, bed: Bed, way: Way, hours: Hours, stand: Stand, sit: Aired, n: int,
    walked: np.ndarray | None = None, walk_airs: Sequence[Air] = (),
) -> Played:  # fmt: skip
    """Play n evenings on which he beds in `bed` and takes `way`; you walk in along `walked`."""
    walk = None if walked is None else Walk(walked, tuple(air.slope for air in walk_airs))
    steps = tuple(air.slope for air in sit.airs)
    when = Sit(sit.morning, sit.arrive, sit.first, sit.last, steps)
    lain = evenings.drawn(seed, bed, way, hours, stand, when, walk, n)
    return evenings.played(lain, sit.airs, walk_airs if walk else None)


def _play(
    sit: Aired, stand: Stand = STAND, way: Way = EAST, walked: np.ndarray | None = None,
    walk_airs: Sequence[Air] = (),
) -> Played:  # fmt: skip
    return play(3, BED, way, EARLY, stand, sit, 4000, walked, walk_airs)


def test_who_walks_a_known_way_comes_within_range_as_often_as_the_angle_says() -> None:
    # From the edge 100 m on, 10 m aside, range 30 m: 100 m times the tangent of a normal stray of
    # 18 degrees, nearly, and 25 m to either side of where he starts.
    from scipy.stats import norm

    spread = np.hypot(100.0 * np.radians(STRAYS_DEG), ASIDE_M)
    expected = norm.cdf((10 + STAND.shoots_m) / spread) - norm.cdf((10 - STAND.shoots_m) / spread)
    assert _play(_sit(90.0)).passes == pytest.approx(expected, abs=0.04)


def test_scent_blown_away_from_bed_and_way_spoils_nothing() -> None:
    played = _play(_sit(toward=90.0))
    assert played.bed_winded == 0
    assert played.meets == pytest.approx(played.passes, abs=0.02)


def test_scent_blown_into_the_bed_spoils_it_all() -> None:
    played = _play(_sit(toward=270.0))
    assert played.bed_winded > 0.95
    assert played.meets < 0.02
    assert played.passes > 0.5


def test_still_air_carries_scent_everywhere() -> None:
    assert _play(_sit(None, half=180.0)).meets == 0


def test_a_bed_out_of_scents_reach_is_not_spoiled_from_the_stand() -> None:
    far = replace(STAND, x=520.0)
    assert _play(_sit(toward=270.0), stand=far).bed_winded == 0


def test_who_gets_up_after_dark_is_not_met() -> None:
    late = play(3, BED, EAST, Hours(60.0, 0.1), STAND, _sit(90.0), n=500)
    assert (late.passes, late.meets, late.minute) == (0, 0, None)


def test_he_comes_past_when_his_walk_brings_him() -> None:
    # 100 m at 0.3 to 0.9 m/s takes 1.9 to 5.6 minutes.
    minute = _play(_sit(90.0)).minute
    assert minute is not None
    assert -60 + 1.5 < minute < -60 + 100 / SLOW_MS / 60 + 1


def test_in_the_morning_he_comes_the_other_way_round() -> None:
    airs = tuple(Air(Scent(90.0, 30.0, 0.1)) for _ in range(25))
    sit = Aired(airs, True, -60.0, -30.0, 180.0)
    played = play(3, BED, EAST, Hours(20.0, 0.1), STAND, sit, n=4000)
    evening = _play(_sit(90.0))
    assert played.passes == pytest.approx(evening.passes, abs=0.04)
    assert played.minute is not None and played.minute < 20
    # Scent that blows east meets him on his way in from the east.
    assert played.way_winded > 0.5
    into_bed = replace(sit, airs=tuple(Air(Scent(270.0, 30.0, 0.1)) for _ in range(25)))
    assert play(3, BED, EAST, Hours(20.0, 0.1), STAND, into_bed, n=500).bed_winded == 0


def test_a_way_nobody_knows_may_lead_anywhere() -> None:
    # From anywhere in the bed, of a circle of headings those within asin(30 / away) hit.
    rng = np.random.default_rng(1)
    turn, off = rng.uniform(0, 2 * np.pi, 9000), 50 * np.sqrt(rng.random(9000))
    away = np.hypot(150 - off * np.sin(turn), 10 - off * np.cos(turn))
    expected = np.degrees(np.arcsin(30 / away)).mean() / 180
    played = _play(_sit(90.0), way=Way(0.0, 0.0, None))
    assert played.passes == pytest.approx(expected, abs=0.02)


def test_cold_air_that_slides_to_the_bed_spoils_what_the_wind_would_not() -> None:
    points = np.stack([np.linspace(150, -60, 40), np.linspace(10, 0, 40)], 1)
    air = Air(Scent(90.0, 30.0, 0.1), 1.0, points)
    sit = replace(_sit(90.0), airs=(air,) * 19)
    assert _play(_sit(90.0)).bed_winded == 0
    assert _play(sit).bed_winded > 0.9


def test_walking_in_upwind_of_the_bed_spoils_it() -> None:
    points = np.array([[150.0, y] for y in (-300.0, -150.0, 0.0)])
    for toward, spoiled in ((270.0, True), (90.0, False)):
        airs = [Air(Scent(toward, 30.0, 0.1)) for _ in range(3)]
        played = _play(_sit(90.0), walked=points, walk_airs=airs)
        assert (played.walk_winded > 0.9) == spoiled


def test_a_track_across_his_way_counts_for_half() -> None:
    across = np.array([[90.0, float(y)] for y in range(-120, 121, 10)])
    airs = [Air(Scent(90.0, 5.0, 0.1)) for _ in across]
    played = _play(_sit(90.0), walked=across, walk_airs=airs)
    assert played.crosses > 0.8
    assert played.meets == pytest.approx(played.passes / 2, abs=0.06)


@settings(max_examples=25)
@given(st.floats(0, 359), st.floats(10, 80), st.floats(1, 40), st.integers(0, 50))
def test_chances_are_chances_and_scent_only_takes_away(
    toward: float, half: float, doubt: float, seed: int
) -> None:
    played = play(seed, BED, EAST, Hours(-20, 30), STAND, _sit(toward, half, doubt), n=200)
    assert 0 <= played.meets <= played.passes <= 1
    assert 0 <= played.bed_winded <= 1


@settings(max_examples=20)
@given(st.floats(0, 359), st.floats(0, 359))
def test_the_whole_scene_may_be_turned(toward: float, by: float) -> None:
    """Bed, way, stand and wind turned by the same angle: the same chances, but for the draws."""
    a = np.radians(by)
    x, y = STAND.x * np.cos(a) + STAND.y * np.sin(a), -STAND.x * np.sin(a) + STAND.y * np.cos(a)
    way = Way(50 * np.cos(a), -50 * np.sin(a), (90 + by) % 360, 0.0)
    turned = play(3, BED, way, EARLY, Stand(x, y, 30), _sit((toward + by) % 360), n=3000)
    plain = play(3, BED, EAST, EARLY, STAND, _sit(toward), n=3000)
    assert turned.passes == pytest.approx(plain.passes, abs=0.05)
    assert turned.meets == pytest.approx(plain.meets, abs=0.06)
