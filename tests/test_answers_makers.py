"""Who made it: nearness in place and time, size, what is not tagged, and what p is worth."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from answers_world import World, at
from simulator import makers_trial

from camsign.answers import beds_known
from camsign.answers.beds_input import BedsInput
from camsign.answers.beds_known import known_of
from camsign.answers.makers import (
    CANNOT_TELL,
    NOBODY_LOOKED,
    NOT_CAUGHT,
    NOT_SORTED,
    NOT_TAGGED,
    Maker,
    Makers,
    _verdict,
    makers,
)
from camsign.answers.scope import scope_of
from camsign.errors import UsageError
from camsign.sign.size import MOST, Builds, Mark, size_likelihood
from camsign.stats.beds import Beds, beds
from camsign.stats.origin import origin_shares, weights_by_distance
from camsign.units import UnitSystem

AUTUMN = (date(2025, 9, 1), date(2025, 10, 31))


def _world() -> tuple[World, str, str]:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Forky", 1.5)
    near = world.camera("CAM01", (60, 0), date(2025, 9, 1), date(2025, 11, 29))
    far = world.camera("CAM02", (1500, 0), date(2025, 9, 1), date(2025, 11, 29))
    return world, near, far


def _rub(world: World, **measures: object) -> str:
    return world.sign("rub", (0, 0), date(2026, 3, 10), AUTUMN, 45.0, measures=dict(measures))


def _rub_at(world: World, place: tuple[float, float]) -> str:
    return world.sign("rub", place, date(2026, 3, 10), AUTUMN)


def _ask(world: World, sign: str, **words: object) -> Makers:
    session = world.session()
    return makers(session, scope_of(session, **words), sign)  # type: ignore[arg-type]


def _days(n: int, clock: str = "17:30", month: int = 9) -> list[str]:
    return [f"2025-{month:02d}-{2 + 2 * i:02d} {clock}" for i in range(n)]


def test_who_was_near_while_it_was_made_comes_first() -> None:
    world, near, far = _world()
    world.seen("b-split-brow", near, *_days(10))
    world.seen("b-forky", far, *_days(14))
    # What was seen behind the made window says nothing.
    world.seen("b-forky", near, *_days(14, month=11))
    answer = _ask(world, _rub(world))
    assert answer.makers[0].buck == "Split Brow"
    by_name = {m.buck: m for m in answer.makers}
    assert by_name["Split Brow"].p > 0.75
    assert (by_name["Split Brow"].visits, by_name["Forky"].visits) == (10, 14)
    assert by_name["Forky"].nearest_m == pytest.approx(1500, abs=0.01)
    assert sum(m.p for m in answer.makers) == pytest.approx(1)
    assert all(m.low <= m.p <= m.high for m in answer.makers)
    assert answer.near_ties == ()


def test_a_buck_that_no_camera_near_it_caught_may_have_made_it_all_the_same() -> None:
    """Pictured three kilometers off in that time, he had no odds; beyond a range he has none."""
    world, near, _ = _world()
    world.buck("Far Ranger", 4.5)
    world.buck("Stranger", 4.5)
    off = world.camera("CAM03", (0, 3000), date(2025, 9, 1), date(2025, 11, 29))
    away = world.camera("CAM04", (0, 4500), date(2025, 9, 1), date(2025, 11, 29))
    world.seen("b-split-brow", near, *_days(10))
    world.seen("b-far-ranger", off, *_days(5))
    world.seen("b-stranger", away, *_days(5))
    by_name = {m.buck: m for m in _ask(world, _rub(world)).makers}
    assert set(by_name) == {"Split Brow", "Far Ranger", NOT_TAGGED}
    assert 0.01 < by_name["Far Ranger"].p < 0.15  # type: ignore[operator]
    assert by_name["Far Ranger"].visits == 0
    assert "absence of pictures is not absence" in by_name["Far Ranger"].why


def _one_beds_and_one_passes(nights: int = 20) -> World:
    """In at dawn, out at dusk: 12 visits on six days in bed, against 20 nights of the other."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Forky", 2.5)
    world.area("The Knob", (0, 0), 60)
    near = world.camera("CAM01", (0, 150), date(2025, 9, 1), date(2025, 10, 31))
    dawn = [f"2025-09-{d:02d} 06:40" for d in range(3, 27, 4)]
    dusk = [f"2025-09-{d:02d} 18:20" for d in range(3, 27, 4)]
    world.seen("b-split-brow", near, *dawn, travel_deg=180.0)
    world.seen("b-split-brow", near, *dusk, travel_deg=0.0)
    world.seen("b-forky", near, *(f"2025-09-{d:02d} 23:30" for d in range(2, 2 + nights)))
    return world


@pytest.mark.thorough
def test_who_beds_by_it_outweighs_who_walks_past_by_night() -> None:
    world = _one_beds_and_one_passes()
    answer = _ask(world, _rub(world))
    assert answer.makers[0].buck == "Split Brow"
    first, other = answer.makers[:2]
    assert (first.visits, other.visits) == (12, 20)
    assert first.p > 1.5 * other.p  # type: ignore[operator]
    assert "bedded at The Knob on" in first.why
    assert "bedded" not in other.why


@pytest.mark.thorough
def test_ways_to_bed_say_nothing_of_a_rub_that_is_none_of_that_bed() -> None:
    """260 yards beyond the camera, where no bed's rubs lie: his 12 visits were days in bed."""
    world = _one_beds_and_one_passes(nights=10)
    by_name = {m.buck: m.p for m in _ask(world, _rub_at(world, (0, 400))).makers}
    assert by_name["Forky"] > 1.3 * by_name["Split Brow"]  # type: ignore[operator]


def test_a_rub_made_on_the_way_out_of_his_bed_is_more_likely_his() -> None:
    """80 m north of the middle of the area where he beds: headed north he left it, south he came;
    east is neither."""
    world = _one_beds_and_one_passes()
    rubs = {
        way: world.sign("rub", (0, 80), date(2026, 3, 10), AUTUMN, way)
        for way in (0.0, 90.0, 180.0, None)
    }
    session = world.session()
    his = {
        way: {m.buck: m.p for m in makers(session, scope_of(session), rub).makers}["Split Brow"]
        for way, rub in rubs.items()
    }
    assert his[0.0] > his[None] > his[90.0]  # type: ignore[operator]
    assert his[0.0] > his[180.0] + 0.05  # type: ignore[operator]


@pytest.mark.parametrize(
    ("units", "off", "within"), [("imperial", "66 yd", "219 yd"), ("metric", "60 m", "200 m")]
)
def test_distances_are_said_in_the_units_of_the_logbook(
    units: UnitSystem, off: str, within: str
) -> None:
    world, near, _ = _world()
    world.settings = replace(world.settings, units=units)
    world.seen("b-split-brow", near, *_days(10))
    answer = _ask(world, _rub(world))
    assert off in answer.makers[0].why
    assert any(
        f"1 camera within {within}, {off} away; 61 nights covered" in line for line in answer.why
    )


def test_watch_makes_few_visits_in_few_nights_count_as_many_in_many() -> None:
    world = World()
    world.buck("Split Brow")
    world.buck("Forky")
    short = world.camera("CAM01", (100, 0), date(2025, 9, 1), date(2025, 9, 12))
    long = world.camera("CAM02", (-100, 0), date(2025, 9, 1), date(2025, 10, 31))
    world.seen("b-split-brow", short, *_days(5))
    world.seen("b-forky", long, *_days(5))
    by_name = {m.buck: m.p for m in _ask(world, _rub(world)).makers}
    assert by_name["Split Brow"] > 2 * by_name["Forky"]


@pytest.mark.parametrize(
    ("odds", "words"),
    [
        # Figures of a first reader: 44% (27-64) against 30% (17-44) is no "likely".
        (
            ((0.44, 0.27, 0.64), (0.30, 0.17, 0.44)),
            "A leads at about 4 in 10; B is next at about 3 in 10",
        ),
        (
            ((0.48, 0.45, 0.52), (0.20, 0.17, 0.24)),
            "can't tell for sure; A leads at about 1 in 2; B",
        ),
        (
            ((0.70, 0.52, 0.80), (0.20, 0.10, 0.40)),
            "likely A, about 7 in 10 (anywhere from 1 in 2 to 8 in 10)",
        ),
    ],
)
def test_nobody_is_likely_at_worse_than_even_odds(odds: tuple[Any, ...], words: str) -> None:
    found = [Maker(n, n, *one, 3, 50.0, "") for n, one in zip("AB", odds, strict=True)]
    told = _verdict(found, ())
    assert words in told and ("likely" in told) == (odds[0][0] > 0.5)


def test_a_doe_may_have_made_what_any_deer_makes() -> None:
    """Of a track it named bucks alone, though does are half the pictures."""
    two = [Maker(n, n, p, p, p, 3, 50.0, "") for n, p in (("A", 0.5), ("B", 0.45))]
    assert _verdict(two, ["B"]) == "can't tell: could be A or B"
    six = [Maker(n, n, p, p - 0.1, p + 0.1, 3, 50.0, "") for n, p in ((n, 0.2) for n in "ABCDEF")]
    # Where nobody stands out, no list of all.
    told = "can't tell: could be any of these 5 bucks, or one without a name"
    assert _verdict(six, list("BCDEF")) == told
    ahead = [replace(six[0], p=0.34), *six[1:]]
    assert _verdict(ahead, []) == (
        "can't tell for sure; A leads at about 1 in 3; nobody else is over 1 in 5"
    )
    a_doe = "a doe could have made it, too. If a buck did: "
    assert _verdict(two, ["B"], any_deer=True) == f"{a_doe}could be A or B"
    assert _verdict(two, [], any_deer=True).startswith(f"{a_doe}A leads at about 1 in 2; B is next")
    world, near, _ = _world()
    world.seen("b-split-brow", near, *_days(6))
    for kind, too in (("track", True), ("bed", True), ("rub", False), ("scrape", False)):
        sign = world.sign(kind, (0, 0), date(2025, 11, 10), AUTUMN)
        answer = _ask(world, sign)
        assert ("a doe could" in answer.said) is too
        assert answer.said.startswith(f"{kind.capitalize()} {sign}: ")


def test_a_bed_that_was_said_to_be_a_does_is_no_bucks() -> None:
    world, near, _ = _world()
    world.seen("b-split-brow", near, *_days(6))
    his, hers = (
        world.sign("bed", (0, 0), date(2025, 11, 10), AUTUMN, bed_of=whose)
        for whose in ("buck", "doe")
    )
    answer = _ask(world, hers)
    assert answer.verdict == "no buck made it: you said it's a doe's"
    assert all(m.p is None for m in answer.makers)
    assert "a doe" not in _ask(world, his).said


def test_size_is_evidence_within_limits() -> None:
    world, near, _ = _world()
    world.seen("b-split-brow", near, *_days(6))
    world.seen("b-forky", near, *_days(6, "19:30"))
    plain = {m.buck: m.p for m in _ask(world, _rub(world)).makers}
    assert plain["Split Brow"] == pytest.approx(plain["Forky"], abs=0.03)
    assert (
        "Forky" in _ask(world, "s-0000").near_ties
        or "Split Brow" in _ask(world, "s-0000").near_ties
    )
    told = _ask(world, "s-0000").said
    assert "can't tell: " in told and " or " in told and "likely" not in told
    tall = _rub(world, top_m=1.3, damage=["broken"])
    answer = _ask(world, tall)
    sized = {m.buck: m for m in answer.makers}
    assert answer.marks == (Mark("tall rub", "mature"), Mark("trunk broken", "mature"))
    low = _ask(world, _rub(world, top_m=0.5)).marks
    assert low == (Mark("low rub", "young"),)
    assert all(f"{one.mark}: " in sized["Split Brow"].why for one in answer.marks)
    assert sized["Split Brow"].p > 1.8 * sized["Forky"].p
    assert "tall rub" in sized["Split Brow"].why


def test_a_habit_that_is_his_speaks_for_him() -> None:
    world, near, _ = _world()
    world.seen("b-split-brow", near, *_days(6))
    world.seen("b-forky", near, *_days(6, "19:30"))
    sign = _rub(world)
    world.add("habits", habit="h-1", name="nicks above", buck="b-forky")
    world.rows["signs"][0]["habit"] = "h-1"
    by_name = {m.buck: m for m in _ask(world, sign).makers}
    assert by_name["Forky"].p > 3 * by_name["Split Brow"].p
    assert "nicks above" in by_name["Forky"].why
    assert "nicks above" not in by_name["Split Brow"].why


def test_size_likelihood_is_bounded_and_neutral_without_knowledge() -> None:
    big = {"top_m": 1.4, "diameter_m": 0.15, "damage": ["broken"], "far_marks_m": 0.30}
    assert size_likelihood(big, Builds(None)) == (1.0, None)
    assert size_likelihood({}, Builds(True)) == (1.0, None)
    for_him, against = (size_likelihood(big, Builds(old))[0] for old in (True, False))
    assert against < 1 < for_him
    assert for_him / against == pytest.approx(MOST)
    # Common practice: 30 cm goes with a spread of 43 to 46 cm.
    far = {"far_marks_m": 0.30}
    fits = size_likelihood(far, Builds(None, (0.445, 0.42, 0.47)))[0]
    narrow = size_likelihood(far, Builds(None, (0.25, 0.22, 0.28)))[0]
    assert fits > 1 > narrow


def test_not_tagged_gets_more_the_more_visits_have_no_name() -> None:
    world, near, _ = _world()
    world.seen("b-split-brow", near, *_days(10))
    few = {m.buck: m.p for m in _ask(world, _rub(world)).makers}[NOT_TAGGED]
    world.seen(None, near, *_days(14, "21:00"))
    many = {m.buck: m.p for m in _ask(world, "s-0000").makers}[NOT_TAGGED]
    assert few < 0.12 < many < 0.4


def test_without_watch_it_says_so() -> None:
    world = World()
    world.buck("Split Brow")
    answer = _ask(world, world.sign("rub", (0, 0), date(2026, 3, 10), AUTUMN))
    assert any("not enough nights covered" in reason for reason in answer.why)
    assert [(m.buck, m.p) for m in answer.makers] == [(NOT_TAGGED, None)]
    assert answer.verdict == CANNOT_TELL
    # Who is asked for by name has a row all the same.
    named = _ask(world, "s-0000", bucks=["Split Brow"])
    assert {m.buck for m in named.makers} == {"Split Brow", NOT_TAGGED}


def test_nights_near_it_that_wait_to_be_sorted_are_told() -> None:
    """Of two cameras near it the pictures of one night wait at one of them: that night waits."""
    world, near, _ = _world()
    world.camera("CAM03", (80, 0), date(2025, 9, 1), date(2025, 11, 29))
    world.seen("b-split-brow", near, *_days(5))
    waits = [date(2025, 9, 20), date(2025, 9, 21), date(2025, 12, 1)]
    for night in waits:
        world.add("unsorted", deployment=near, day=night, night=night, bursts=2)
    answer = _ask(world, _rub(world))
    assert (answer.watch.nights_watched, answer.watch.nights_unsorted) == (59, 2)
    assert (
        "2 cameras within 219 yd, the closest 66 yd away; 59 nights covered; "
        "2 of 61 nights aren't sorted, so they don't count yet"
    ) in answer.why
    # What waits farther off holds nothing up.
    assert answer.makers[0].p is not None


def _waiting(world: World, deployment: str, nights: int) -> None:
    for i in range(nights):
        night = AUTUMN[0] + timedelta(days=i)
        world.add("unsorted", deployment=deployment, day=night, night=night, bursts=2)


def test_where_most_nights_near_it_wait_nobody_is_named() -> None:
    """It called one likely for his age alone, and the others not seen, though nobody had looked."""
    world, near, _ = _world()
    world.seen("b-split-brow", near, *_days(5, month=10))
    _waiting(world, near, 31)
    answer = _ask(world, _rub(world, top_m=1.4))
    told = "31 of 61 nights aren't sorted, so they don't count yet"
    assert answer.verdict == f"can't tell yet: {told}. Sort them first"
    assert [m.p for m in answer.makers] == [None] * len(answer.makers)
    other = _ask(world, "s-0000", bucks=["Forky"])
    assert [m.why.partition("; ")[0] for m in other.makers] == [NOT_SORTED, NOT_CAUGHT]


def test_nobody_is_named_for_his_age_alone_while_nights_wait() -> None:
    """No visit and no day in bed tied him to it: only that he was the one with a mature age."""
    world, near, _ = _world()
    _waiting(world, near, 12)
    rub = _rub(world, top_m=1.4)
    answer = _ask(world, rub)
    assert answer.verdict.startswith("can't tell yet: 12 of 61 nights aren't sorted")
    world.seen("b-split-brow", near, *_days(5, month=10))
    assert _ask(world, rub).verdict.startswith("likely Split Brow, about ")


def test_a_camera_whose_card_is_not_loaded_is_named() -> None:
    """It said that no camera was up, and to hang one, where one hung 44 yards off."""
    world = World()
    world.buck("Split Brow")
    for name, east in (("CAM04", 40), ("CAM07", 900)):
        world.add(
            "deployments", deployment=f"d-{name}", camera=name, hung=datetime(2025, 8, 10, 18),
            lat=at(east, 0)[0], lon=at(east, 0)[1],
        )  # fmt: skip
    rub = world.sign("rub", (0, 0), date(2025, 10, 31), AUTUMN)
    answer = _ask(world, rub)
    load = "no card from CAM04, 44 yd away"
    assert answer.verdict == f"can't tell: {load}, nor from 1 other camera: load them"
    assert answer.why == ("made between 2025-09-01 and 2025-10-31",)
    # With cards of another, farther off, the near one's is still asked for.
    far = world.camera("CAM02", (1500, 0), date(2025, 9, 1), date(2025, 11, 29))
    world.seen("b-split-brow", far, *_days(5))
    answer = _ask(world, rub)
    assert f"{load}: load it" in answer.why
    assert not any("hung now" in line for line in answer.why)
    assert (
        "no camera within 219 yd covered that time; 1 camera farther off, 0.9 mi away; "
        "61 nights covered"
    ) in answer.why
    # Its first card is in, which ends before: there may be none after it.
    world.add("watch", deployment="d-CAM04", night=date(2025, 8, 20), watched=True)
    (line,) = [one for one in _ask(world, rub).why if "CAM04" in one]
    assert line.endswith("44 yd away: nothing since 2025-08-20. If you have its next card, load it")


def test_a_rub_older_than_every_camera_names_no_odds_but_who_was_alive() -> None:
    world, near, _ = _world()
    world.buck("Late Comer", 0.5)
    world.seen("b-split-brow", near, *_days(3))
    world.seen("b-late-comer", near, *_days(3))
    old = world.sign("rub", (0, 0), date(2025, 11, 10), (date(2022, 9, 1), date(2023, 12, 31)))
    answer = _ask(world, old)
    # 5.5 years old in 2025, he was 3.5 then; a fawn of 2025 was not born.
    assert {(m.buck, m.p) for m in answer.makers} == {("Split Brow", None), (NOT_TAGGED, None)}
    assert answer.verdict == CANNOT_TELL
    assert not any("a camera closer" in line for line in answer.why)
    # Nobody looked: he is not said to have been missed, and the headline is not said again.
    assert {m.why for m in answer.makers} == {NOBODY_LOOKED, NOT_CAUGHT}
    assert not any(line.startswith("can't tell") for line in answer.why)


def _two_seasons() -> World:
    """He beds by CAM01 in both autumns."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    for year in (2024, 2025):
        hung = world.camera(
            "CAM01", (100, 0), date(year, 9, 1), date(year, 10, 10), (), f"d-{year}"
        )
        for i in range(12):
            world.seen("b-split-brow", hung, f"{year}-09-{2 + 2 * i:02d} 06:20", travel_deg=270.0)
    return world


def test_a_rub_of_one_of_several_seasons_is_weighed_over_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Each season's beds are drawn as often as it needs; unlike draws could not be added."""

    def drawn(_: object, read: BedsInput) -> Beds:
        return beds(read.evidence, chains=2 * (read.first.year - 2023), kept=100)

    monkeypatch.setattr(beds_known, "_kept", drawn)
    world = _two_seasons()
    old = world.sign("rub", (60, 0), date(2025, 12, 10), (date(2024, 9, 1), date(2025, 11, 30)))
    session = world.session()
    every = scope_of(session, first=date(2024, 9, 1))
    assert len({len(found.draws) for _, found in known_of(session, every).seasons}) == 2
    answer = makers(session, every, old)
    assert answer.verdict.startswith("likely Split Brow")
    assert "of 78 days" in answer.makers[0].why


@pytest.mark.parametrize(("since", "bare"), [(2024, 0), (2023, 1), (2021, 3)])
def test_nobody_is_named_for_a_rub_that_may_be_older_than_the_cameras(
    since: int, bare: int
) -> None:
    world = _two_seasons()
    made = date(since, 9, 1), date(2025, 11, 30)
    answer = _ask(world, world.sign("rub", (60, 0), date(2025, 12, 10), made))
    if not bare:
        assert answer.verdict.startswith("likely Split Brow")
        return
    told = f"can't tell: no camera near it covered {bare} of the {bare + 2} seasons it may be from"
    assert answer.verdict == told
    assert {m.p for m in answer.makers} == {None}


def test_unknown_sign_and_keys() -> None:
    world, near, _ = _world()
    world.seen("b-split-brow", near, *_days(3))
    sign = _rub(world)
    with pytest.raises(UsageError, match="no sign"):
        _ask(world, "s-9999")
    given = _ask(world, sign).to_json()
    assert {"sign", "makers", "why", "method"} <= set(given)
    assert {"buck", "p", "low", "high", "why"} <= set(given["makers"][0])
    assert list(_ask(world, sign[:5]).to_frame()["sign"].unique()) == [sign]


def test_weights_fall_as_a_gaussian() -> None:
    # Width 400 m, widened by 0.3 of the nearest distance.
    weights = weights_by_distance(np.array([100.0, 500.0]))
    assert weights[0] == 1
    width2 = 400**2 + 30**2
    assert weights[1] == pytest.approx(np.exp(-(500**2 - 100**2) / (2 * width2)))


def test_seeded_and_empty() -> None:
    args = (np.array([[3.0], [1.0]]), np.array([1.0]), np.array([30.0]), np.array([50.0]))
    assert origin_shares(*args, np.ones(3)) == origin_shares(*args, np.ones(3))
    none = np.zeros(0)
    assert origin_shares(np.zeros((0, 0)), none, none, none, np.ones(1)).value == [1.0]


def test_it_beats_the_nearest_camera_in_a_few_properties() -> None:
    trial = makers_trial(range(12), draws=200)
    assert trial.log_score > trial.nearest_log_score
