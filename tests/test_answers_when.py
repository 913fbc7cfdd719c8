"""When one buck is near one area: visits in sun-anchored and local time."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from answers_world import World

from camsign.answers.chances import Span, back_test, best_in_words
from camsign.answers.result import Figure
from camsign.answers.scope import scope_of
from camsign.answers.when import When, when
from camsign.cli.show import Table
from camsign.errors import UsageError
from camsign.page import area_parts


@pytest.fixture(scope="module")
def answer() -> When:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Old Crook", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 10, 1), date(2025, 11, 11))
    inside = world.camera("CAM02", (0, 10), date(2025, 10, 1), date(2025, 11, 11))
    world.seen("b-split-brow", hung, "2025-10-31 17:30", "2025-10-31 17:40", "2025-11-03 06:10")
    world.seen("b-split-brow", inside, "2025-10-31 17:50", "2025-11-05 12:00")
    world.seen("b-old-crook", hung, "2025-11-03 06:10")
    session = world.session()
    return when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))


def test_visits_in_order_with_offset_and_distance(answer: When) -> None:
    assert [v.local.isoformat() for v in answer.visits] == [
        "2025-10-31T17:30:00-04:00",
        "2025-11-03T06:10:00-05:00",
        "2025-11-05T12:00:00-05:00",
    ]
    assert [v.camera for v in answer.visits] == ["CAM01", "CAM01", "CAM02"]
    assert [v.distance_m for v in answer.visits] == pytest.approx([70, 70, 0], abs=1e-3)
    assert answer.visits[0].until.isoformat() == "2025-10-31T17:50:00-04:00"
    assert all(v.utc == v.local for v in answer.visits)
    assert answer.last_seen == answer.visits[-1].local


def test_hours_from_the_sun(answer: When) -> None:
    # Sunset on 2025-10-31 at 44.1 N 71.2 W is close to 17:35 EDT, sunrise on 3 November to 06:21
    # EST (almanac values from memory, good to some minutes).
    assert answer.visits[0].minutes_from_sunset == pytest.approx(-5, abs=4)
    assert answer.visits[1].minutes_from_sunrise == pytest.approx(-12, abs=4)
    assert sum(h.visits for h in answer.by_hour_from_sunrise) == 3
    assert answer.by_hour_from_sunrise[0].hour == -1
    hours = [h.hour for h in answer.by_hour_from_sunset]
    assert hours == list(range(hours[0], hours[-1] + 1))
    assert (answer.daylight.value, answer.daylight.n) == (pytest.approx(2 / 3), 3)


def test_keys_of_json_and_table(answer: When) -> None:
    given = answer.to_json()
    wanted = {
        "buck", "area", "nights_watched", "by_hour_from_sunrise", "by_hour_from_sunset", "daylight",
        "last_seen", "visits", "watch", "method", "why",
    }  # fmt: skip
    assert wanted <= set(given)
    assert set(given["by_hour_from_sunset"][0]) == {"hour", "visits"}
    wanted = {
        "utc", "local", "camera", "in_daylight", "minutes_from_sunrise", "minutes_from_sunset",
        "distance_m",
    }  # fmt: skip
    assert wanted <= set(given["visits"][0])
    assert list(answer.to_frame()["buck"]) == ["Split Brow"] * 3


def test_one_buck_and_one_area_are_wanted() -> None:
    world = World()
    world.area("Hemlock Bench", (0, 0), 80)
    session = world.session()
    with pytest.raises(UsageError, match="one buck and one area"):
        when(session, scope_of(session, areas=["Hemlock Bench"]))


def test_never_seen_is_not_absent() -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    assert answer.visits == ()
    assert any("absence of pictures is not absence" in reason for reason in answer.why)
    assert any("not enough nights covered" in reason for reason in answer.why)


def _regular(hours: tuple[str, ...] = ("15:30",), step: int = 3) -> When:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    first, last = date(2025, 9, 1), date(2025, 11, 29)
    hung = world.camera("CAM01", (150, 0), first, last)
    for i in range(0, 87, step):
        day = first + timedelta(days=1 + i)
        world.seen("b-split-brow", hung, *(f"{day} {hour}" for hour in hours))
    session = world.session()
    return when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))


def test_chance_of_a_daylight_visit_by_month() -> None:
    answer = _regular()
    # Every third day: 29 of 89 whole days.
    chance = answer.shooting_light_chance
    assert chance.value == pytest.approx(29 / 89, abs=0.04)
    assert chance.n == 89
    assert [(p.part, p.days, p.seen) for p in answer.by_month] == [
        ("September 2025", 29, 10),
        ("October 2025", 31, 10),
        ("November 2025", 29, 9),
    ]
    # Phases follow each other without a gap, so their days and pictures add up to the same.
    assert [p.part for p in answer.by_part] == [
        "velvet",
        "early",
        "lull",
        "scraping",
        "rut",
        "late",
    ]
    assert (sum(p.days for p in answer.by_part), sum(p.seen for p in answer.by_part)) == (89, 29)
    for part in answer.by_month:
        assert part.chance.low < 1 / 3 < part.chance.high  # type: ignore[operator]
    # Last seen on 25 November, watched to the 29th.
    assert answer.days_since_last == 4


def test_the_last_day_covered_is_a_day_as_where_counts_it() -> None:
    """Its card was pulled in the afternoon of November 11: that night counts, that day doesn't."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 10, 1), date(2025, 11, 11))
    world.rows["watch"][-1]["day_watched"] = False
    world.seen("b-split-brow", hung, "2025-11-05 12:00")
    session = world.session()
    found = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    assert found.ago == "5 days before the last day covered"


def test_best_spans_are_ranked_and_the_curve_has_a_band() -> None:
    answer = _regular()
    best = answer.best_spans[0]
    # 15:30 is three and a half hours to one before sunset; hours begin from the end of gray light.
    assert best.anchor == "sunset"
    assert best.from_minutes in (-210, -150, -90)
    # No hour lies outside shooting light: half an hour around sunrise and sunset.
    for span in answer.best_spans:
        assert span.anchor == "sunset" or span.from_minutes >= -30
        assert span.anchor == "sunrise" or span.to_minutes <= 30
    values = [span.chance.value for span in answer.best_spans]
    assert values == sorted(values, reverse=True)
    assert len(answer.activity) == 48
    assert all(p.share.low <= p.share.high for p in answer.activity)  # type: ignore[operator]
    # Sun-anchored: from about three quarters of the day on, 15 to 18 o'clock.
    peak = max(answer.activity, key=lambda p: p.share.value or 0)
    assert 14 <= peak.hour <= 18


def test_back_test_scores_what_was_known_a_week_before() -> None:
    test = _regular().back_test
    assert test is not None
    # The first forecast comes after 14 days known a week before: 89 days less about 21.
    assert 60 <= test.days <= 75
    assert test.happened == pytest.approx(1 / 3, abs=0.05)
    assert test.forecast == pytest.approx(1 / 3, abs=0.07)
    assert test.brier == pytest.approx(2 / 9, abs=0.03)
    assert test.brier_of_mean == pytest.approx(2 / 9, abs=0.03)
    assert sum(c.happened.n or 0 for c in test.calibration) == test.days


def test_forecasts_are_held_against_his_own_days_in_one_verdict() -> None:
    """How they did on made-up seasons is told in docs/answers/when.md, not beside his own days."""
    test = _regular().back_test
    assert test is not None
    told = test.in_words()
    assert "said about 1 in 3, it was about 1 in 3. The time of season is no better than" in told
    assert told.endswith("just using his average, so go by that: about 1 day in 3.")
    assert "too high" not in told


def test_forecasts_of_bucks_who_seldom_come_are_not_too_high() -> None:
    """Each comes on 2% of days: forecasts used to lean on a usual buck and said 5%."""
    rng, parts = np.random.default_rng(5), np.repeat(np.arange(3), 30)
    tests = [back_test((rng.random(90) < 0.02).astype(int).tolist(), parts, 3) for _ in range(60)]
    said = sum((t.forecast or 0.0) * t.days for t in tests)
    was = sum((t.happened or 0.0) * t.days for t in tests)
    assert was / 1.2 < said < 1.2 * was
    # A forecast is his average unless the weeks before showed better, so most are as good.
    assert sum(t.brier == t.brier_of_mean for t in tests) > 40


def test_a_rut_unlike_the_rest_is_gone_by_and_told() -> None:
    """Never before October 25, then on two days of three: his average is far behind."""
    from camsign.cli.when import _tables

    world = World()
    world.settings.phases.clear()
    world.settings.phases.update(early=((9, 1), (10, 24)), rut=((10, 25), (11, 30)))
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 9, 1), date(2025, 11, 29))
    rut = [date(2025, 10, 25) + timedelta(days=i) for i in range(35) if i % 3]
    world.seen("b-split-brow", hung, "2025-09-20 12:00", *(f"{day} 12:00" for day in rut))
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    test = answer.back_test
    assert test is not None and test.better
    assert test.brier is not None and test.brier_of_mean is not None
    assert test.brier < test.brier_of_mean
    assert "the time of season" in test.in_words() and "beats just using" in test.in_words()
    heads = [one.head for one in _tables(answer) if isinstance(one, Table)]
    assert heads[0] == ("phase", "whole days covered", "in shooting light", "chance on a day")
    chart = area_parts._of_when(answer)["parts"]
    assert [row.name for row in chart.rows] == ["early", "rut"]
    # Months were not what was checked: what was counted, without odds.
    assert heads[1] == ("month", "whole days covered", "in shooting light")


def test_parts_no_better_than_his_average_get_no_odds() -> None:
    from camsign.cli.when import _tables

    answer = _regular()
    assert answer.back_test is not None and not answer.back_test.better
    assert answer.back_test.brier == answer.back_test.brier_of_mean
    assert area_parts._of_when(answer)["parts"] is None
    heads = [one.head for one in _tables(answer) if isinstance(one, Table)]
    assert heads[0] == ("phase", "whole days covered", "in shooting light")


def _hour(anchor: str, first: int, value: float, low: float, days: int = 5) -> Span:
    return Span(anchor, first, first + 60, Figure(value, low, 0.3), days)


@pytest.mark.parametrize(
    ("spans", "words"),
    [
        # Figures of a first reader: 10% (5-20) at dawn against 8% (3-16) at dusk is a tie.
        (
            (_hour("sunrise", -30, 0.1, 0.05), _hour("sunset", -30, 0.08, 0.03)),
            "either first light (about 1 day in 10) or last light (about 1 day in 13)",
        ),
        (
            (_hour("sunset", -30, 0.1, 0.05), _hour("sunrise", -30, 0.1, 0.05)),
            "either last light or first light, about 1 day in 10 each",
        ),
        (
            (_hour("sunset", -30, 0.3, 0.2), _hour("sunrise", -30, 0.1, 0.05)),
            "30 min before sunset to 30 min after sunset, about 3 days in 10 (anywhere from 1 in 5 "
            "to 3 in 10; 30%)",
        ),
        ((_hour("sunset", -30, 0.02, 0.0, days=0),), None),
    ],
)
def test_hours_too_close_to_call_are_both_named(spans: tuple[Span, ...], words: str | None) -> None:
    assert best_in_words(spans) == words


def test_phases_of_the_logbook_take_the_place_of_months() -> None:
    world = World()
    world.settings.phases.clear()
    world.settings.phases.update(early=((9, 1), (10, 15)), rut=((10, 25), (11, 20)))
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 9, 1), date(2025, 11, 29))
    world.seen("b-split-brow", hung, *(f"2025-11-{d:02d} 12:00" for d in range(1, 15)))
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    early, rut = answer.by_part
    assert (early.part, rut.part) == ("early", "rut")
    assert (early.seen, rut.seen, rut.days) == (0, 14, 27)
    assert early.chance.value < rut.chance.value  # type: ignore[operator]


def test_an_empty_october_shows_as_empty() -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 8, 31), date(2025, 12, 1))
    for first, n in ((date(2025, 9, 2), 12), (date(2025, 11, 2), 12)):
        for i in range(n):
            world.seen("b-split-brow", hung, f"{first + timedelta(days=2 * i)} 12:00")
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    october = next(p for p in answer.by_month if p.part.startswith("October"))
    assert (october.seen, october.days) == (0, 31)
    # One design effect over the season said 13% in the demo.
    assert october.chance.value is not None and october.chance.value < 0.06


def test_a_buck_never_pictured_in_light_is_told_so_and_has_no_best_hour() -> None:
    """The best hour of nobody had twice the odds of the whole day."""
    from camsign.cli.when import _more, _tables

    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 9, 1), date(2025, 11, 29))
    world.seen("b-split-brow", hung, "2025-10-03 01:00", "2025-11-03 02:00")
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    assert not answer.pictured
    assert answer.said == (
        "No picture of Split Brow at Hemlock Bench in shooting light in 90 days covered (he came "
        "in the dark 2 times). At most 1 day in 20."
    )
    heads = [one.head for one in _tables(answer) if isinstance(one, Table)]
    assert heads == []
    later = [one.head for one in _more(answer, "imperial") if isinstance(one, Table)]
    assert later and not any("best hours" in head for head in later)
    # Of two visits no share: it would run from nothing to most.
    counts = next(block for block in _tables(answer) if isinstance(block, str))
    assert counts == "0 visits by day, 0 in gray light, 2 in the dark; too few to say more."


def test_phases_are_told_with_their_days() -> None:
    first = _regular().by_part[1]
    assert (first.part, first.dated) == ("early", "early (Sep 6 to Oct 4)")
    assert _regular().by_month[0].dated == "September 2025"


def test_an_hour_in_the_dark_is_never_the_best() -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 11, 1), date(2025, 11, 29))
    # Sunrise is at 6:20 to 6:55 EST: at 5:30 it is dark, at 6:10 gray light or night.
    days = [date(2025, 11, 3) + timedelta(days=i) for i in range(25)]
    world.seen("b-split-brow", hung, *(f"{day} 05:15" for day in days))
    world.seen("b-split-brow", hung, *(f"{day} 16:10" for day in days[::5]))
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    assert (answer.day, answer.dark) == (5, 25)
    assert answer.best_spans[0].anchor == "sunset"
    assert all(span.days == 0 for span in answer.best_spans if span.anchor == "sunrise")
    assert {v.light for v in answer.visits} == {"day", "dark"}


def test_the_light_beside_a_visits_minutes_is_that_of_the_same_picture() -> None:
    """A visit that began 14 minutes before sunrise was called day, another at 11 gray."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 11, 1), date(2025, 11, 29))
    # Sunrise is at 6:31 and 6:33 EST.
    world.seen("b-split-brow", hung, "2025-11-10 06:20", "2025-11-10 06:40", "2025-11-11 06:20")
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    assert [v.light for v in answer.visits] == ["day", "gray"]
    assert [v.light_said for v in answer.visits] == ["gray, then day", "gray"]
    assert (answer.day, answer.gray) == (1, 1)
    assert all((v.minutes_from_sunrise or 0) < 0 for v in answer.visits)
