"""The model of beds: its likelihood of a day summed by hand, and what it learns from seasons."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from camsign.stats.beds import WARMED, WORK, Beds, beds, chains_of, most_of, settled
from camsign.stats.beds_chances import Chances, day_ratios, said, worth
from camsign.stats.beds_evidence import (
    ACROSS,
    DARK,
    EVENING,
    IN,
    LIT,
    MORNING,
    OUT,
    UNTOLD,
    Evidence,
    Looks,
    Nameless,
)  # fmt: skip
from camsign.stats.beds_learned import Course, first_guess, learn
from camsign.stats.estimate import spread_of

NONE = np.zeros(0, dtype=int)
NOBODY = Nameless(NONE, NONE, NONE, np.zeros((0, 2), int), np.zeros((0, 2), int),
                  np.zeros((0, 2), bool))  # fmt: skip


def _evidence(looks: list[tuple[int, ...]], bucks: int, days: int, areas: int) -> Evidence:
    """Looks: buck, day, area, end, half, way; one camera outside at every area."""
    rows = np.array(looks, dtype=int).reshape(-1, 6)
    none = np.zeros((bucks, days, areas), dtype=bool)
    watch = np.broadcast_to(np.arange(areas), (days, areas)).copy()
    return Evidence(
        bucks, days, areas, Looks(*rows.T, np.zeros(len(rows), dtype=bool)), NOBODY, watch,
        np.ones(areas, dtype=int), none, none, none, np.zeros((bucks, areas)),
        np.full(areas, 2.0 * days), np.ones(areas),
    )  # fmt: skip


def _chances() -> Chances:
    return Chances(
        passes=np.array([[[[0.4, 0.3], [0.0, 0.0]]]]),
        trails=np.array([[[0.35]]]),
        hidden=np.array([[[0.25]]]),
        stirs=np.array([[[0.05]]]),
        others=np.array([[[[0.06, 0.09, 0.02]]]]),
        ways=np.array([[[[0.5, 0.3, 0.2]]]]),
        dark=np.array([[[0.35, 0.3]]]),
        fits=np.array([[[0.8, 0.15, 0.05], [0.7, 0.2, 0.1]]]),
        roams=np.array([[0.0]]),
        keeps=np.array([[0.6]]),
        likes=np.array([[[0.5, 0.5]]]),
        used=np.ones((1, 1), dtype=bool),
    )


def _said(e: Evidence, c: Chances, chain: np.ndarray) -> np.ndarray:
    """What days say, by the looks of the season alone."""
    return said(e, c, day_ratios(e, c, chain, e.looks, worth(e, c, chain, e.looks)))


@pytest.mark.parametrize("half", [DARK, LIT])
@pytest.mark.parametrize("way", [UNTOLD, IN, ACROSS, OUT])
@pytest.mark.parametrize("end", [MORNING, EVENING])
def test_a_day_is_as_likely_as_its_reasons_summed_by_hand(end: int, half: int, way: int) -> None:
    c = _chances()
    e = _evidence([(0, 0, 0, end, half, way)], 1, 1, 1)
    p, q = c.passes[0, 0, 0, end], c.passes[0, 0, 0, 1 - end]
    other, dark = c.others[0, 0, 0], c.dark[0, 0, end]
    share = dark if half == DARK else 1 - dark
    # By night, or as one of those who walk through and keep the hours of a bed.
    often = 1 - (1 - other[0] * (half == DARK)) * (1 - other[1] * share)
    fitting = {UNTOLD: 0, IN: 0, ACROSS: 1, OUT: 2}[way]
    if end == EVENING and way in (IN, OUT):
        fitting = 2 - fitting
    right = 1.0 if way == UNTOLD else c.fits[0, 0, fitting]
    theirs = 1.0 if way == UNTOLD else c.ways[0, 0, 0, way - 1]
    # In bed: he passes to bed in this half; or does not, and passes for other reasons, in the
    # light the way a day in bed asks for. Not in bed: for other reasons only. Nothing at the other
    # end.
    stray = right if half == LIT else theirs
    in_bed = (p * share * right + (1 - p) * often * stray) * (1 - q) * (1 - c.stirs[0, 0, 0])
    slipping, away = often * stray, often * theirs
    hand = 0.25 * slipping / away + 0.75 * in_bed / away
    assert _said(e, c, np.zeros(1, int))[0, :, 0, 0].tolist() == (pytest.approx([hand, 1.0]))


def test_a_day_nobody_watched_says_nothing() -> None:
    e = _evidence([], 1, 2, 1)
    e = replace(e, watch=np.array([[-1], [0]]))
    found = _said(e, _chances(), NONE)[..., 0, 0]
    assert found[0].tolist() == [1.0, 1.0]
    assert found[1, 0] == pytest.approx(0.25 + 0.75 * 0.6 * 0.7 * 0.95)


def test_a_day_not_seen_far_off_is_likelier_in_bed() -> None:
    """Seen far off on 0.2 of days elsewhere, and 0.03 of that in bed; summed by hand."""
    e, c = _evidence([], 1, 2, 1), replace(_chances(), roams=np.array([[0.2]]))
    e = replace(e, watch=np.full((2, 1), -1), far=np.array([[[True], [False]]]))
    found = _said(e, c, NONE)[..., 0, 0]
    odds = found[:, 0] / found[:, 1]
    assert odds.tolist() == pytest.approx([0.03, (1 - 0.03 * 0.2) / (1 - 0.2)])


def _seldom_pictured(seed: int) -> tuple[Evidence, int]:
    """Four bucks, one bed, a camera that takes them at one end in five; seen far off on 0.4 of the
    days elsewhere. Gives the days in bed of all of them."""
    rng = np.random.default_rng(seed)
    looks, far, total = [], np.zeros((4, 90, 1), dtype=bool), 0
    for k in range(4):
        here = False
        for d in range(90):
            here = bool(rng.random() < 0.6) if d == 0 or rng.random() > 0.7 else here
            total += here
            far[k, d] = not here and rng.random() < 0.4
            looks += [
                (k, d, 0, end, LIT, way)
                for end, way in ((MORNING, IN), (EVENING, OUT))
                if here and rng.random() < 0.2
            ]
    return replace(_evidence(looks, 4, 90, 1), far=far), total


@pytest.mark.thorough
def test_days_come_out_right_where_he_is_seen_far_off_when_elsewhere() -> None:
    said_days, truth = 0.0, 0
    for seed in (1, 2, 3):
        e, days = _seldom_pictured(seed)
        found = beds(e, chains=32, kept=40)
        said_days += float(found.chance[..., 0].sum())
        truth += days
    assert 0.9 < said_days / truth < 1.1


def _played(seed: int) -> tuple[Evidence, np.ndarray]:
    """Play a season by the model's own laws: three bucks, two areas, ninety days."""
    rng = np.random.default_rng(seed)
    bucks, days = 3, 90
    where = np.zeros((bucks, days), dtype=int)
    looks = []
    for k in range(bucks):
        for d in range(days):
            fresh = d == 0 or rng.random() > 0.7
            where[k, d] = rng.choice(3, p=[0.45, 0.25, 0.3]) if fresh else where[k, d - 1]
            a = where[k, d]
            if a == 2 or rng.random() < 0.3:
                continue
            for end, right in ((MORNING, IN), (EVENING, OUT)):
                if rng.random() < 0.4:
                    half = DARK if rng.random() < 0.3 else LIT
                    looks.append((k, d, int(a), end, half, right))
    return _evidence(looks, bucks, days, 2), where


@pytest.mark.thorough
def test_it_finds_the_days_of_seasons_played_by_its_own_laws() -> None:
    held = asked = 0
    said_days = true_days = 0.0
    for seed in (1, 2, 3):
        e, where = _played(seed)
        found = beds(e, kept=40, warmed=40)
        every = np.ones(e.days, dtype=bool)
        for k in range(3):
            for a in range(2):
                days, truth = found.days(k, a, every), int((where[k] == a).sum())
                low, high = np.quantile(days, [0.025, 0.975])
                held, asked = held + (low <= truth <= high), asked + 1
                said_days, true_days = said_days + days.mean(), true_days + truth
    assert held >= asked - 2
    assert 0.8 < said_days / true_days < 1.25


def test_the_same_evidence_gives_the_same_numbers() -> None:
    e, _ = _played(4)
    one, other = (beds(e, kept=5, warmed=5) for _ in range(2))
    assert (one.draws == other.draws).all()
    assert (one.chance == other.chance).all()


@pytest.mark.thorough
def test_other_draws_say_the_same() -> None:
    """A day for the mean and two for the ends: other seeds moved them by up to 3.5 and 8."""
    e, _ = _played(1)
    every = np.ones(e.days, dtype=bool)
    said_of = []
    for seed in (1, 2, 3, 4):
        found = beds(e, seed=seed)
        days = [found.days(k, a, every) for k in range(3) for a in range(2)]
        said_of.append([(s.value, s.low, s.high) for s in map(spread_of, days)])
    moved = np.ptp(np.array(said_of, dtype=float), axis=0)
    assert moved[:, 0].max() <= 1
    assert moved[:, 1:].max() <= 2


def test_a_picture_without_a_name_goes_to_the_buck_it_fits() -> None:
    """One buck beds here every day; on three evenings a nameless buck goes out, another's far."""
    ends = [(d, end, way) for d in range(30) for end, way in ((MORNING, IN), (EVENING, OUT))]
    nobody = {(d, EVENING) for d in (10, 14, 18)}
    looks = [(0, d, 0, end, LIT, way) for d, end, way in ends if (d, end) not in nobody]
    looks += [(1, d, 1, end, LIT, way) for d, end, way in ends]
    e = _evidence(looks, 2, 31, 2)
    at = np.array([10, 14, 18])
    two = lambda a, b: np.tile([a, b], (3, 1))  # noqa: E731
    nameless = Nameless(at, np.full(3, EVENING), np.full(3, LIT), two(0, -1), two(OUT, UNTOLD),
                        two(0, 0) > 0)  # fmt: skip
    found = beds(replace(e, nameless=nameless), kept=30, warmed=30)
    assert (found.chance[0, [10, 14, 18], 0] > 0.95).all()
    assert (found.chance[1, [10, 14, 18], 0] < 0.05).all()


def test_going_on_from_the_last_day() -> None:
    e, _ = _played(5)
    found = beds(e, kept=20, warmed=20)
    assert isinstance(found, Beds)
    now, later, long = (found.ahead_draws(days).mean(axis=0) for days in (0, 3, 400))
    for one in (now, later, long):
        assert one.sum(axis=1) == pytest.approx(np.ones(3))
    # In the long run he is where he likes to be.
    assert long == pytest.approx(found.likes.mean(axis=0), abs=1e-6)


def test_courses_ahead_go_on_from_the_last_day_as_their_odds_say() -> None:
    """Six chains of one buck: the share in each bed after a day and after five, by the formula."""
    draws = np.zeros((60_000, 1, 1), dtype=np.uint8)
    keeps, likes = np.full((60_000, 1), 0.7), np.tile([0.2, 0.5, 0.3], (60_000, 1, 1))
    none = np.zeros((1, 1, 1))
    found = Beds(draws, none, keeps, likes, none, none).courses_ahead(5, seed=1)
    assert found.shape == (60_000, 1, 5)
    for day in (1, 5):
        stays = 0.7**day
        wanted = stays * np.array([1.0, 0.0, 0.0]) + (1 - stays) * np.array([0.2, 0.5, 0.3])
        share = np.bincount(found[:, 0, day - 1], minlength=3) / 60_000
        assert share == pytest.approx(wanted, abs=0.01)
    # Courses, not days: tomorrow he is mostly where he is today.
    assert (found[:, 0, 4] == found[:, 0, 3]).mean() > 0.75


def test_a_large_season_is_learned_in_bounded_work() -> None:
    """Work is counted, not time: eight bucks, twelve areas, 120 days."""
    e = _evidence([], 8, 120, 12)
    chains = chains_of(e)
    assert chains >= 32
    assert chains * (WARMED + most_of(e, chains)) * 8 * 13 * 120 <= WORK
    assert chains * most_of(e, chains) >= 4000


def test_settled_is_when_other_chains_say_the_same() -> None:
    rng = np.random.default_rng(7)
    alike = rng.normal(20, 5, (32, 400, 2))
    assert settled(alike)
    # A fifth of the chains stay where he beds somewhere else; few rounds leave the ends open.
    astray = alike.copy()
    astray[:6, :, 1] -= 15
    assert not settled(astray)
    assert not settled(alike[:, :5])


def _with_a_corridor(seed: int) -> Evidence:
    """Six bucks bed in area 0 now and then; all walk through area 1 at dusk and dawn, any way."""
    rng = np.random.default_rng(seed)
    looks = []
    for k in range(6):
        for d in range(70):
            if rng.random() < 0.4 and rng.random() < 0.7:
                looks += [
                    (k, d, 0, end, LIT, way)
                    for end, way in ((MORNING, IN), (EVENING, OUT))
                    if rng.random() < 0.4
                ]
            looks += [
                (k, d, 1, end, DARK if rng.random() < 0.25 else LIT, rng.choice([IN, OUT]))
                for end in (MORNING, EVENING)
                if rng.random() < 0.25
            ]
    return _evidence(looks, 6, 70, 2)


def test_an_area_that_all_walk_through_is_nobodys_bed() -> None:
    e = _with_a_corridor(6)
    found = beds(e, kept=30, warmed=30)
    every = np.ones(e.days, dtype=bool)
    bedded = [(found.days(k, 1, every) > 0).mean() for k in range(e.bucks)]
    assert max(bedded) < 0.5
    assert all((found.days(k, 0, every) > 0).mean() > 0.95 for k in range(e.bucks))


def test_early_walkers_of_a_corridor_are_not_on_their_way_to_bed() -> None:
    """No way told, nobody there by night: what they do before light tells no bed from a trail."""
    days = []
    for seed in (6, 7, 8):
        e = _with_a_corridor(seed)
        e = replace(e, looks=replace(e.looks, way=np.zeros_like(e.looks.way)))
        found = beds(replace(e, night_spans=e.night_spans * 4), chains=16, kept=40, warmed=40)
        days += found.chance[:, :, 1].sum(axis=1).tolist()
    # Of 70 each. As long as all before light was night, this said 42.
    assert np.mean(days) < 5


def test_who_passes_at_dawn_passes_at_dusk() -> None:
    """Before any picture: both ends of a day are one buck's, on his own trails."""
    e, rng = _evidence([], 1, 3, 1), np.random.default_rng(1)
    c = first_guess(e, 400)
    no = np.zeros((3, 400, 1), dtype=bool)
    nowhere = Course(np.ones((3, 400, 1), dtype=int), ~no, no)
    for _ in range(10):
        learn(e, c, NONE, e.looks, worth(e, c, NONE, e.looks), nowhere, rng)
    dawn, dusk = c.passes[:, 0, 0].T
    assert np.corrcoef(dawn, dusk)[0, 1] > 0.7
    # The law of one camera: Beta(1.5, 6.5), mean 0.19 (camsign/stats/beds_learned.py).
    assert dawn.mean() == pytest.approx(0.19, abs=0.03)
