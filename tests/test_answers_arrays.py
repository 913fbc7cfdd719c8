"""The arrays behind the answers, by hand on a few pictures: each limit at it and beside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from answers_world import World

from camsign.answers import beds_input, chances, evenings
from camsign.answers.area_sign import _outward_gain, _sectors, _Sign, area_sign, grown_hectares
from camsign.answers.beds_ground import RANGE_M, ground_of
from camsign.answers.beds_input import _by_day, _ends, _half_ends, _sets, _ways
from camsign.answers.beds_known import Known
from camsign.answers.bucks import Bucks, bucks_of, day_in, mature_of
from camsign.answers.days import SeasonPart, daily
from camsign.answers.detections import DAY, SURE, Asked, Detections, MergedVisits, unnamed_alone
from camsign.answers.reach import AreaOrCamera, Reach, Watching
from camsign.answers.scope import Scope, scope_of
from camsign.answers.when import _by_hour, _since
from camsign.geo import Circle, Polygon, area_center
from camsign.stats.beds_evidence import ACROSS, DARK, EVENING, IN, LIT, MORNING, OUT, UNTOLD

DAY0 = np.datetime64("2025-10-01")
NO_DAYS = np.zeros(0, "datetime64[D]")


def _seen(*rows: dict[str, Any]) -> Detections:
    """Pictures: at, buck, minutes from midnight UTC of DAY0, from sunrise, from sunset, …"""
    usual = {"at": 0, "buck": 0, "min": 0, "rise": np.nan, "set": np.nan, "travel": np.nan,
             "apart": 0, "light": 2, "weak": False}  # fmt: skip
    got = {k: np.array([(usual | row)[k] for row in rows]) for k in usual}
    utc = DAY0.astype("datetime64[us]") + got["min"].astype("timedelta64[m]")
    day = utc.astype("datetime64[D]")
    return Detections(
        got["at"], got["buck"], utc, utc, day, (utc - np.timedelta64(12, "h")).astype(day.dtype),
        got["light"], got["rise"].astype(float), got["set"].astype(float),
        got["travel"].astype(float), got["apart"], got["weak"],
    )  # fmt: skip


def test_the_two_ends_of_a_day_are_two_hours_about_sunrise_and_sunset() -> None:
    rise = [-121, -120, -31, -30, 120, 121, 300, 300, 300, 300, 300, np.nan]
    sets = [-600, -600, -600, -600, -600, -600, -121, -120, 30, 31, 121, np.nan]
    rows = [{"rise": r, "set": s} for r, s in zip(rise, sets, strict=True)]
    end, half = _half_ends(_seen(*rows))
    none, m, e = -1, MORNING, EVENING
    assert end.tolist() == [none, m, m, m, m, none, none, e, e, e, none, none]
    assert half[[1, 2, 3, 4, 7, 8, 9]].tolist() == [DARK, DARK, LIT, LIT, LIT, LIT, DARK]


def test_a_way_is_told_against_the_bearing_to_the_center() -> None:
    ground: Any = SimpleNamespace(bearing=np.array([[90.0], [90.0]]),
                                  center_m=np.array([[15.0], [14.9]]))  # fmt: skip
    travel = [90, 150, 151, 209, 210, 270, 30, 29, 330, 331, np.nan]
    seen = _seen(*({"travel": t} for t in travel), {"at": 1, "travel": 90})
    rows = np.arange(12)
    way = _ways(seen, ground, np.zeros(12, dtype=int), rows)
    assert way.tolist() == [IN, IN, ACROSS, ACROSS, OUT, OUT, IN, ACROSS, OUT, ACROSS, UNTOLD,
                            UNTOLD]  # fmt: skip


def test_cameras_that_watched_together_are_a_set() -> None:
    """Two cameras of one area: both on 8 days, the first alone on 8, the second alone on 7."""
    watched = np.zeros((25, 2), dtype=bool)
    watched[:16, 0] = True
    watched[8:16, 1] = watched[16:23, 1] = True
    found, sizes = _sets(watched, np.array([[True, False], [True, False]]))
    assert (found[23:, 0] == -1).all()
    assert (found[:, 1] == -1).all()
    kinds = [set(found[a:b, 0].tolist()) for a, b in ((0, 8), (8, 16), (16, 23))]
    assert all(len(kind) == 1 for kind in kinds)
    assert len(set.union(*kinds)) == 3
    assert [int(sizes[next(iter(kind))]) for kind in kinds] == [1, 2, 1]
    # Sets of fewer than 8 days are taken together by how many cameras they have.
    watched[7, 0] = False
    found, sizes = _sets(watched, np.array([[True, False], [True, False]]))
    assert found[0, 0] == found[20, 0] != found[10, 0]
    assert found[7, 0] == -1


def _ground(*bearings: float) -> Any:
    n = len(bearings)
    return SimpleNamespace(
        bearing=np.array([[b] for b in bearings]), center_m=np.full((n, 1), 100.0),
        distance=np.array([[50.0]] * (n - 1) + [[0.0]]),
    )  # fmt: skip


def test_of_a_mornings_pictures_the_last_decides_and_of_an_evenings_the_first() -> None:
    """Told ways go before across, across before untold; who has no name stands apart."""
    morning, evening = {"rise": 0, "set": -600}, {"rise": 600, "set": 0}
    seen = _seen(
        morning | {"min": 400, "travel": 90}, morning | {"min": 410, "travel": 270},
        morning | {"min": 420, "travel": 0}, evening | {"min": 1000, "travel": 270},
        evening | {"min": 1010, "travel": 90}, evening | {"min": 1440 + 1000, "buck": 1, "at": 1},
        evening | {"min": 1440 + 1005, "apart": 1, "buck": -1},
        evening | {"min": 1440 + 1020, "apart": 1, "buck": -1},
        evening | {"min": 1440 + 1036, "apart": 1, "buck": -1},
        evening | {"min": 2880 + 1000},
    )  # fmt: skip
    reached = np.array([[True], [True]])
    sets = np.array([[0], [0]])
    looks, rows, nameless, ends = _ends(seen, _ground(90.0, 90.0), reached, sets, DAY0)
    assert rows.tolist() == [1, 3, 5]
    assert looks.buck.tolist() == [0, 0, 1]
    assert looks.day.tolist() == [0, 0, 1]
    assert looks.end.tolist() == [MORNING, EVENING, EVENING]
    assert looks.way.tolist() == [OUT, OUT, UNTOLD]
    assert looks.inside.tolist() == [False, False, True]
    assert ends.row.tolist() == list(range(9))
    # 15 minutes belong to one pass, 16 to the next.
    assert nameless.day.tolist() == [1, 1]
    assert nameless.area.tolist() == [[0, -1], [0, -1]]
    assert nameless.way.tolist() == [[UNTOLD, UNTOLD], [UNTOLD, UNTOLD]]
    assert not nameless.inside.any()


def test_full_daylight_and_night_begin_two_hours_from_the_sun() -> None:
    seen = _seen(
        {"min": 700, "rise": 121, "set": -121}, {"min": 1440 + 700, "rise": 120, "set": -300},
        {"min": 2880 + 700, "rise": 300, "set": -120},
        {"min": 10, "rise": -121, "set": -900}, {"min": 80, "rise": -121, "set": -900},
        {"min": 100, "rise": -121, "set": -900}, {"min": 1300, "rise": 700, "set": 121},
        {"min": 1301, "rise": 700, "set": 120, "at": 1},
        {"min": 700, "rise": 200, "set": -200, "at": 1},
    )  # fmt: skip
    reached, far = np.array([[True], [False]]), np.array([[False], [True]])
    stirred, away, night = _by_day(seen, reached, far, DAY0, (1, 2, 1))
    assert stirred[0, :, 0].tolist() == [True, False]
    # Far off on the same day: but he was seen here as well.
    assert not away.any()
    # Stretches of 90 minutes from midnight UTC: 0 to 90 holds two pictures.
    assert night.tolist() == [[3.0]]
    only = _by_day(seen, np.array([[False], [False]]), far, DAY0, (1, 2, 1))
    assert only[1][0, :, 0].tolist() == [True, False]


def _watching(*days: int) -> Watching:
    found = DAY0 + np.array(days)
    return Watching(found, found, ("A",), NO_DAYS, NO_DAYS)


def test_events_are_counted_by_day_within_the_watch_and_its_part() -> None:
    watch, events = _watching(2, 3, 5), DAY0 + np.array([1, 2, 2, 4, 5, 6])
    assert daily(watch, events) == [2, 0, -1, 1]
    assert daily(Watching(NO_DAYS, NO_DAYS, (), NO_DAYS, NO_DAYS), events) == []
    day = date(2025, 10, 1)
    for first, last, counts in (
        (3, 3, [2, -1, -1, -1]), (4, 6, [-1, 0, -1, 1]), (1, 30, [2, 0, -1, 1]),
        (1, 2, [-1] * 4), (7, 9, [-1] * 4), (6, 6, [-1, -1, -1, 1]),
    ):  # fmt: skip
        part = SeasonPart("p", day.replace(day=first), day.replace(day=last))
        assert daily(watch, events, part) == counts, (first, last)
    assert _since(events, watch) == 0
    assert _since(events[:2], watch) == 3
    assert _since(NO_DAYS, watch) is None
    within = watch.within(date(2025, 10, 4), date(2025, 10, 6))
    assert (within.nights - DAY0).astype(int).tolist() == [3, 5]


REACH = Reach((AreaOrCamera("a", "A"),), ("d0", "d1"), ("C0", "C1"), ((0, 0, 5.0), (0, 1, 6.0)))
SCOPE = Scope(None, None, date(2025, 10, 1), date(2025, 10, 9), None, 200.0, 1800.0, 3.5)


def _merged(seen: Detections, gap_s: float = SCOPE.gap_s) -> MergedVisits:
    """Visits at one spot that two cameras reach; no logbook is open."""
    no_one, scope = Bucks((), (), {}), replace(SCOPE, gap_s=gap_s)
    return Asked(cast(Any, None), scope, "area", REACH, (_watching(0),), no_one, seen).visited


def test_detections_no_farther_apart_than_the_gap_are_one_visit() -> None:
    seen = _seen(
        {"min": 600, "light": 0}, {"min": 630, "at": 1, "light": 1, "weak": True},
        {"min": 661, "weak": True}, {"min": 600, "buck": 1}, {"min": 600, "apart": 2},
    )  # fmt: skip
    found = _merged(seen)
    assert found.frames.tolist() == [2, 1, 1, 1]
    assert found.light.tolist() == [1, 2, 2, 2]
    assert found.weak.tolist() == [False, True, False, False]
    assert found.at.tolist() == [0, 0, 0, 0]
    assert (found.until - found.utc).astype("timedelta64[m]").astype(int).tolist() == [30, 0, 0, 0]
    assert found.shooting.tolist() == [True] * 4
    assert (found.light == DAY).tolist() == [False, True, True, True]
    # The night of 10 in the morning began the day before: the first day's noon stands for it.
    assert found.on_watch.tolist() == [True] * 4
    assert found.runs()[0, 1, SURE] == slice(3, 4)
    assert found.runs().keys() == {(0, 0, 0), (0, 0, 2), (0, 1, 0)}
    none = _merged(seen.take(np.zeros(0, dtype=int)))
    assert len(none.at) == 0
    assert none.runs() == {}


def test_who_has_no_name_beside_a_named_one_is_a_part_of_his_visit() -> None:
    rows = [{"min": 600}, {"min": 640, "buck": 1}]
    nameless = [{"min": m, "apart": 1, "buck": -1} for m in (500, 569, 570, 670, 671, 900)]
    found = _merged(_seen(*rows, *nameless), gap_s=60.0)
    alone = unnamed_alone(found, 1800.0)
    minute = (found.utc - found.utc.astype("datetime64[D]")).astype("timedelta64[m]").astype(int)
    # 570 lies 30 minutes before the first, 670 as much behind the second; 569 and 570 are one pass.
    assert sorted(minute[alone].tolist()) == [500, 900]
    apart = _merged(_seen(*rows, *nameless), gap_s=30.0)
    minute = (apart.utc - apart.utc.astype("datetime64[D]")).astype("timedelta64[m]").astype(int)
    assert sorted(minute[unnamed_alone(apart, 1800.0)].tolist()) == [500, 569, 671, 900]


def test_hours_are_ranked_within_shooting_light() -> None:
    """Gray light is 30 minutes; hours begin with it at dawn and end with it at dusk."""
    rise = np.array([-31.0, -30.0, 29.0, 30.0, 500.0, 500.0, 500.0, 500.0])
    sets = np.array([-500.0, -500.0, -500.0, -500.0, -31.0, -30.0, 29.0, 30.0])
    chosen: list[np.ndarray] = []

    def by_day(which: np.ndarray) -> list[int]:
        chosen.append(which)
        return [int(which.sum()), 0, -1]

    spans = chances.best_spans(rise, sets, (30.0, 30.0), by_day)
    assert [(w.nonzero()[0] + 0).tolist() for w in chosen] == [
        [1, 2], [3], [], [], [5, 6], [4], [], []]  # fmt: skip
    assert {(s.anchor, s.from_minutes, s.to_minutes) for s in spans} == {
        ("sunrise", start, start + 60) for start in (-30, 30, 90, 150)} | {
        ("sunset", start, start + 60) for start in (-30, -90, -150, -210)}  # fmt: skip
    assert {s.chance.n for s in spans} == {2}
    assert sorted(s.days for s in spans) == [0, 0, 0, 0, 1, 1, 1, 1]
    assert [(h.hour, h.visits) for h in _by_hour([-61.0, -60.0, 59.9, 60.0, None])] == [
        (-2, 1), (-1, 1), (0, 1), (1, 1)]  # fmt: skip
    assert _by_hour([None]) == ()


def test_the_best_of_eight_hours_is_not_said_to_be_better_than_it_is() -> None:
    """He comes on one evening in eight, at an hour drawn from three: the luckiest looks best."""
    rng, said = np.random.default_rng(5), []
    for _ in range(60):
        day = np.flatnonzero(rng.random(70) < 0.12)
        sets = 30 - 60.0 * rng.integers(1, 4, len(day)) + 30

        def by_day(which: np.ndarray, day: np.ndarray = day) -> list[int]:
            return np.bincount(day[which], minlength=70).tolist()  # type: ignore[no-any-return]

        spans = chances.best_spans(np.full(len(day), 400.0), sets, (30.0, 30.0), by_day)
        said.append(spans[0].chance.value or 0.0)
    # Each of the three hours has a chance of 0.04; each hour by itself, 0.067 was said.
    assert 0.035 < np.mean(said) < 0.058


@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("shot 2025-11-12", (2025, 11, 12)), ("11/9/2025 by Tom", (2025, 11, 9)),
        ("Nov 9th", (2025, 11, 9)), ("hit, Sept. 3, 2024", (2024, 9, 3)),
        ("9 November", (2025, 11, 9)),
        ("Jan 5", (2026, 1, 5)), ("Nov 1", (2025, 11, 1)), ("Oct 31", (2026, 10, 31)),
        ("2025-13-40 then Nov 9", (2025, 11, 9)), ("found dead", None), ("Feb 30", None),
    ],
)  # fmt: skip
def test_the_day_in_the_words_of_an_end(words: str, day: tuple[int, int, int] | None) -> None:
    """Last pictured on November 1, 2025."""
    assert day_in(words, date(2025, 11, 1)) == (date(*day) if day else None)


def test_a_day_without_a_year_is_none_without_a_picture() -> None:
    assert day_in("Nov 9", None) is None
    assert day_in("Nov 9, 2025", None) == date(2025, 11, 9)


def test_age_goes_on_from_season_to_season() -> None:
    world = World()
    for name, age, year in (
        ("A", 3.5, 2025),
        ("B", 2.5, 2024),
        ("C", 3.4, 2025),
        ("D", None, 2025),
    ):
        world.buck(name, age, year)
    world.buck("E", 5.5, 2025, ended="2025-10-09")
    world.buck("F", 5.5, 2025, ended="2025-10-10")
    session = world.session()
    scope = replace(scope_of(session, first=date(2025, 10, 1), last=date(2025, 10, 9)), season=2025)
    bucks = bucks_of(session, scope)

    def named(numbers: Any) -> str:
        return "".join(sorted(bucks.names[n] for n in numbers))

    found = mature_of(session, scope, bucks)
    assert [named(x) for x in (found.bucks, found.unknown, found.ended)] == ["ABF", "D", "E"]
    assert named(mature_of(session, scope, bucks, living=False).bucks) == "ABEF"
    next_year = mature_of(session, replace(scope, season=2026), bucks)
    assert named(next_year.bucks) == "ABCF"
    assert named(mature_of(session, replace(scope, season=2024), bucks).bucks) == "F"


def _rub(east_m: float, north_m: float, travel: float | None, **more: Any) -> _Sign:
    """A rub by degrees about 44.1, -71.2: one of latitude is 111.1 km there, of longitude 80.1."""
    lat, lon = 44.1 + north_m / 111_100, -71.2 + east_m / 80_100
    given = {"sign": f"{east_m},{north_m}", "kind": "rub", "season": 2025, "bed_of": None,
             "made_from": date(2025, 10, 1), "made_to": date(2025, 10, 2), "distance_m": 0.0,
             "in_scope": True} | more  # fmt: skip
    return _Sign(lat=lat, lon=lon, travel_deg=travel, **given)


def test_rubs_lead_out_of_sectors_and_into_them() -> None:
    center = (44.1, -71.2)
    out = [_rub(100, 0, 90.0), _rub(0, 100, 59.0), _rub(0, -100, 241.0)]
    across = [_rub(-100, 0, 0.0), _rub(-100, 0, None)]
    assert _sectors([*out, *across], center) == (2, 0)
    assert _sectors([_rub(100, 0, 270.0), _rub(100, 5, 269.0)], center) == (0, 1)
    assert _sectors([], center) == (0, 0)
    assert _outward_gain([], center) == _outward_gain(across[1:], center) == 0.0
    many = [_rub(100 * np.sin(a), 100 * np.cos(a), float(np.degrees(a)) % 360)
            for a in np.arange(0, 6.28, 0.5)]  # fmt: skip
    turned = [replace(r, travel_deg=((r.travel_deg or 0) + 180) % 360) for r in many]
    assert _outward_gain(many, center) > 0 > _outward_gain(turned, center)


def test_an_area_grows_by_its_perimeter_and_its_corners() -> None:
    """A square of 100 m grown by 10: 1.44 ha less what the round corners miss, 4 - pi squares."""
    circle = Circle(44.1, -71.2, 100.0)
    assert grown_hectares(circle, 50.0) == pytest.approx(np.pi * 150**2 / 1e4)
    # A degree at 44.1 N by WGS 84: 80,071 m of longitude, 111,114 m of latitude.
    east, north = 100 / 80_071, 100 / 111_114
    ring = (
        (-71.2, 44.1),
        (-71.2 + east, 44.1),
        (-71.2 + east, 44.1 + north),
        (-71.2, 44.1 + north),
    )
    square = Polygon(((*ring, ring[0]),))
    grown = grown_hectares(square, 10.0)
    assert grown == pytest.approx(1.44 - (4 - np.pi) * 0.01, abs=0.01)
    # 100 m farther out only the perimeter of 400 m and the circle grow.
    more = grown_hectares(square, 110.0) - grown
    assert more == pytest.approx(400 * 100 / 1e4 + np.pi * (110**2 - 10**2) / 1e4, abs=0.002)
    assert area_center(square) == pytest.approx((44.1 + north / 2, -71.2 + east / 2), abs=1e-5)


def test_sign_within_reach_and_in_the_ring_about_it() -> None:
    """The edge lies 80 m from the center: 280 m is in reach (200), 281 m in the ring, which ends
    five reaches off."""
    world = World()
    area = world.area("Bench", (0, 0), 80)
    made = (date(2025, 10, 1), date(2025, 10, 9))
    for n, east in enumerate((279.9, 280.2, 1079.9, 1080.3)):
        world.sign("rub", (east, 0), made[1], made, None, sign=f"s-{n}")
    session = world.session()
    found = area_sign(session, scope_of(session, season=2025), area, Circle(44.1, -71.2, 80.0))
    assert (found.rubs, found.density_ratio.n) == (1, 3)
    assert (found.km_walked, found.per_km_ratio) == (None, None)
    assert found.newest == date(2025, 10, 9)
    few = scope_of(session, first=date(2025, 10, 1), last=date(2025, 10, 3))
    assert area_sign(session, few, area, Circle(44.1, -71.2, 80.0)).newest == date(2025, 10, 3)


def test_areas_beyond_a_bucks_range_are_elsewhere() -> None:
    world = World()
    for name, east in (("Near", 0), ("Edge", RANGE_M - 5), ("Far", RANGE_M + 5)):
        world.area(name, (east, 0), 80)
    world.camera("CAM1", (RANGE_M + 100, 0), date(2025, 10, 1), date(2025, 10, 2))
    world.camera("CAM2", (100, 0), date(2025, 10, 1), date(2025, 10, 2))
    session = world.session()
    found = ground_of(session, 200.0, ["a-near"])
    assert sorted(found.ids) == ["a-edge", "a-near"]
    near = dict(zip(found.reach.cameras, found.near.tolist(), strict=True))
    assert near == {"CAM1": True, "CAM2": True}
    assert ground_of(session, 200.0).near is None
    assert len(ground_of(session, 200.0).ids) == 3
    alone = ground_of(session, 10.0, ["a-near"])
    assert dict(zip(alone.reach.cameras, alone.near.tolist(), strict=True))["CAM1"] is False


def _evenings(*bed: float, through: float = 0.0, rubs: int = 0) -> evenings.Evenings:
    n = len(bed)
    use = np.array(bed)
    any_one, came = np.minimum(np.array(bed), 10.0), np.arange(n)
    walks = np.full(n, through)
    return evenings.Evenings(np.array(bed), walks, any_one, came, came, use, rubs, 1.0)


def test_evenings_are_compared_draw_by_draw_and_weighed_by_rubs() -> None:
    one, other = _evenings(1.0, 2.0, 3.0, 4.0), _evenings(1.0, 1.5, 3.5)
    assert evenings.more_often(one, other) == pytest.approx(1 / 3)
    assert evenings.more_often(one, replace(one, through=np.full(4, -0.5))) == 1.0
    assert one.estimate().value == 2.5
    assert evenings.by_sign([one]) == [one]
    taken = evenings._taken(one, np.array([0.0, 0.5, 0.5, 0.0]))
    assert taken.bed.tolist() == [2.0, 2.0, 3.0, 3.0]
    assert taken.came.tolist() == [1, 1, 2, 2]
    even = evenings._taken(one, np.full(4, 0.25))
    assert even.bed.tolist() == one.bed.tolist()
    rich, poor = evenings.by_sign(
        [_evenings(*[0.0, 4.0] * 50, rubs=30), _evenings(*[0.0, 4.0] * 50)]
    )
    assert rich.bed.mean() > poor.bed.mean()


def test_days_of_the_model_are_wanted_up_to_the_day_before_an_end() -> None:
    known, scope = Known(()), replace(SCOPE, first=date(2025, 10, 2), last=date(2025, 10, 5))
    watch = _watching(0, 1, 2, 3, 4, 5)

    def wanted(ended: date | None = None) -> list[int]:
        return (known.wanted(watch, scope, ended) - DAY0).astype(int).tolist()

    assert wanted() == [1, 2, 3, 4]
    assert wanted(date(2025, 10, 4)) == [1, 2]
    assert wanted(date(2025, 10, 4) + timedelta(days=9)) == [1, 2, 3, 4]
    assert known.days("b", "a", NO_DAYS).tolist() == [0]
    assert known.buck_ids == ()
    assert beds_input.APART_M == 800.0
