"""Where one word gives way to the next: each limit of the answers, at it and a hair off it.

Limits and words are those of docs/answers; the laws behind them are tested with stats.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta, timezone
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from answers_world import World
from scipy.stats import binom

from camsign.answers import bedded, chances, makers, rivals, where
from camsign.answers import bedding as beds
from camsign.answers import verdict as rules
from camsign.answers.area_sign import AreaSign
from camsign.answers.compare import _order as compare_order
from camsign.answers.compare import compare
from camsign.answers.compared import Compare, Compared
from camsign.answers.days import SeasonPart, months
from camsign.answers.odds import about, odds, one_in
from camsign.answers.result import THIN, Figure, Watch, flatten, nothing_watched, plain, reasons
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.sign.radiants import OVER_BOTH_WAYS
from camsign.stats.estimate import Estimate
from camsign.stats.order import GivingWay
from camsign.units import counted

SIGN = AreaSign(0, 0, 0, Figure(None, None, None), None, None, 0, 0, 0, None, 1.0)
SEEN = rules.DaysSeen(0, 0, 0, 0, 0, 0, 0, 0)


def _draws(*counts: tuple[int, int]) -> np.ndarray:
    """Days bedded in 100 draws: (days, how many draws) each."""
    return np.concatenate([np.full(n, days) for days, n in counts])


@pytest.mark.parametrize(
    ("shown", "draws", "watched", "word"),
    [
        (3, _draws((3, 100)), 9, rules.CONFIRMED),
        (2, _draws((3, 100)), 9, rules.LIKELY),
        (3, _draws((2, 100)), 9, rules.LIKELY),
        # Under 3 days in 4 of 100 draws: the 95% interval then begins at 2.
        (3, _draws((2, 4), (3, 96)), 9, rules.LIKELY),
        (3, _draws((2, 1), (3, 99)), 9, rules.CONFIRMED),
        (0, _draws((0, 20), (1, 80)), 9, rules.LIKELY),
        (0, _draws((0, 21), (1, 79)), 9, rules.POSSIBLE),
        (0, _draws((0, 80), (1, 20)), 9, rules.POSSIBLE),
        (0, _draws((0, 81), (1, 19)), 10, rules.NOT_SHOWN),
        (0, _draws((0, 81), (1, 19)), 9, rules.NOT_ENOUGH),
    ],
)
def test_verdicts_change_at_their_limits(
    shown: int, draws: np.ndarray, watched: int, word: str
) -> None:
    assert rules.verdict_of(replace(SEEN, shown=shown), draws, watched) == word


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.991, "over 99%"), (0.99, "99%"), (0.01, "1%"), (0.0099, "under 1%"), (0.5, "50%")],
)
def test_chances_are_never_all_or_none(chance: float, words: str) -> None:
    assert rules.percent(chance) == words


def test_what_was_seen_is_said_the_strongest_first() -> None:
    def said(**seen: int) -> str:
        return replace(SEEN, **seen).in_words()

    assert said(directed=1, inside=2).endswith("coming out at dusk on 1 day")
    assert said(inside=2, both=3) == "was there in full daylight on 2 days"
    one_look = said(inside=1, mornings=4, evenings=3)  # one picture is not why he is called so
    assert one_look == (
        "was pictured near it on 4 mornings and 3 evenings, and there in full daylight on 1 day"
    )
    assert said(both=3, mornings=4) == "was seen near it at dawn and at dusk on 3 days"
    assert said(mornings=1) == "was pictured near it on 1 morning"
    assert said(evenings=1) == "was pictured near it on 1 evening"
    assert said() == "was not pictured near it at dawn or dusk"


def test_why_counts_days_and_gives_the_odds() -> None:
    seen = rules.DaysSeen(4, 3, 2, 1, 1, 1, 1, 2)
    why = rules.why_of(seen, _draws((3, 97), (0, 3)), 12)
    assert why == [
        "pictured near it on 4 mornings and 3 evenings, both on 2 of 12 days covered "
        "at dawn and dusk; on 1 of them the way he was headed shows it",
        "there in full daylight on 1 day",
        "going the wrong way for a bed on 1 day",
        "far off in full daylight on 2 days",
        "all of it together: 97% that he bedded here at least 3 days",
    ]
    why = rules.why_of(SEEN, _draws((0, 40), (1, 10), (3, 50)), 12)
    assert why[-1] == (
        "all of it together: 50% that he bedded here at least 3 days, 60% at least one"
    )
    assert "all we'll say is probably" in rules.why_of(seen, _draws((3, 100)), 12)[-1]
    assert "all we'll say is probably" not in rules.why_of(
        replace(seen, shown=3), _draws((3, 100)), 12
    )[-1]  # fmt: skip
    # While much waits: it said `probably` below `may bed here`.
    assert "all we'll say is he may bed here" in rules.why_of(seen, _draws((3, 1)), 12, True)[-1]


def test_sign_points_to_a_bed_by_beds_or_by_many_rubs_that_lead_out() -> None:
    def pointing(**made: Any) -> str | None:
        return rules.sign_points_to_bed(replace(SIGN, **made))

    assert pointing(beds=1) == "1 bed found nearby"
    assert pointing(beds=2) == "2 beds found nearby"
    enough = {"rubs": 10, "sectors_out": 4, "outward_gain": OVER_BOTH_WAYS}
    assert pointing(**enough) == "10 rubs head outward in 4 of 8 directions"
    for less in ({"rubs": 9}, {"sectors_out": 3}, {"outward_gain": OVER_BOTH_WAYS - 0.001}):
        assert pointing(**(enough | less)) is None


@pytest.mark.parametrize("share", [None, 0.01, 0.05, 0.3, 1.0])
def test_days_to_settle_are_those_of_the_binomial_law_where_days_are_apart(
    share: float | None,
) -> None:
    """Of n days, each seen at both ends with 0.2 of his share (never under 0.05), three are likely
    (0.8) to be: SciPy's binomial law, as an outside source."""
    chance = 0.2 * max(0.3 if share is None else share, 0.05)
    n = next(n for n in range(3, 1000) if binom.sf(2, n, chance) >= 0.8)
    assert rules.days_to_settle(share, (0.0, 0.2)) == n


def test_days_to_settle_go_by_how_long_he_stays_and_how_often_he_slips_by() -> None:
    usual = rules.days_to_settle(0.3, (0.6, 0.2))
    assert rules.days_to_settle(0.3, (0.95, 0.2)) > 1.2 * usual
    assert rules.days_to_settle(0.3, (0.6, 0.6)) > 1.5 * usual
    assert rules.days_to_settle(0.3, (0.6, 0.05)) < usual


def _row(**fields: Any) -> Compared:
    none = Figure(None, None, None)
    given = {
        "area": "Bench", "area_id": "a", "kind": None, "rank": 1, "tied_with": (),
        "evening_walks_per_10_days": none, "evenings_with_one_per_10": none,
        "shooting_light_visits_per_10_days": none, "visits": 3,
        "day": 1, "gray": 2, "identified": none, "verdict": "likely", "rivals": none,
        "sign_per_ha": 0.0, "sign_per_km_walked": None, "newest_sign": None, "seasons": 0,
        "nights_watched": 20, "why": (),
    } | fields  # fmt: skip
    return Compared(**given)


@pytest.mark.parametrize(
    ("often", "words"),
    [
        (9.5, "nearly every evening"),
        (9.4, "about 9 of the next 10 evenings"),
        (1.5, "about 2 of the next 10 evenings"),
        (1.25, "about 1 evening in 8"),
        (0.95, "about 1 evening in 11"),
        (0.5, "about 1 evening in 20"),
        (0.45, "about 1 evening in 20"),
        (0.4, "about 1 evening in 25"),
        (0.01, "about 1 evening in 1000"),
        (0.0, "about 1 evening in 1000"),
    ],
)
def test_evenings_are_said_as_people_say_them(often: float, words: str) -> None:
    alone = Figure(often, 0, 9)
    row = _row(evening_walks_per_10_days=alone, evenings_with_one_per_10=alone)
    assert row.evenings == words
    assert row.spread == f"anywhere from none to 9{'' if often >= 1.5 else ' in 10'}"
    company = replace(row, evening_walks_per_10_days=Figure(often + 2, 0, 9))
    assert company.evenings == f"{words}, some evenings more than one"


WATCH = Watch(("CAM1",), 20, 19, date(2025, 10, 1), date(2025, 10, 20))
BARE = Watch((), 0, 0, None, None)


def _compared(*rows: Compared, watch: Watch = WATCH) -> str:
    return Compare(rows, {row.area: watch for row in rows}, "", ()).said


def test_the_best_area_is_said_with_those_too_close_to_it() -> None:
    rate, walks = Figure(2.0, 1, 3), Figure(3.0, 1, 5)
    best = _row(shooting_light_visits_per_10_days=rate, evening_walks_per_10_days=walks,
                evenings_with_one_per_10=walks)  # fmt: skip
    three = (
        "on about 3 of the next 10 evenings (anywhere from 1 to 5), by any trail, pictured or not"
    )
    expect = (
        "After 2025-10-20, the last night covered, expect a mature buck out in shooting light at"
    )
    end = ". One stand covers only some of the trails, so you'd see "
    assert _compared(best) == f"Only one area to compare. {expect} Bench {three}{end}fewer."
    tied, other = replace(best, tied_with=("Fork",)), replace(best, area="Fork")
    said = f"Bench or Fork: too close to call. {expect} either {three}{end}fewer."
    assert _compared(tied, other) == said
    less = replace(other, evenings_with_one_per_10=Figure(1.0, 0, 2))
    assert "shooting light at Bench on about" in _compared(tied, less)
    both, third = replace(best, tied_with=("Fork", "Knob")), replace(best, area="Knob")
    assert _compared(both, other, third).startswith("Bench, Fork or Knob: too close to call. Aft")
    assert "shooting light at each on about" in _compared(both, other, third)
    dark = replace(other, nights_watched=0)
    alone = f"Can't compare yet: cameras covered Bench alone. {expect} Bench {three}{end}fewer."
    assert _compared(best, dark) == alone
    assert _compared(best, third, dark).startswith("Bench first. ")


def test_what_cannot_be_compared_is_said_with_its_reason() -> None:
    rate = Figure(2.04, 1, 3)
    assert _compared(_row(visits=0)) == (
        "Can't tell yet: no picture of mature bucks in shooting light on those days."
    )
    assert _compared(_row()) == "Can't tell yet: no day at Bench is known to have been watched."
    seen = _row(shooting_light_visits_per_10_days=rate)
    much = "about 2.0 visits in shooting light in 10 days (3 seen: 1 by day, 2 in gray light)."
    assert _compared(seen) == f"Only one area to compare. At Bench, {much}"
    does = Compare((seen,), {"Bench": WATCH}, "", (), "does").said
    assert does == f"Does and fawns: Only one area to compare. At Bench, {much}"
    tied = replace(seen, tied_with=("Fork",))
    assert _compared(tied, replace(seen, area="Fork")) == (
        f"Bench or Fork: too close to call. At Bench, {much}"
    )
    assert _compared(seen, watch=BARE).startswith(f"Can't tell yet: {THIN}. No camera was up")
    # With no area, nights may well be covered: only the area is missing. So with unsorted ones.
    assert Compare((), {}, "", ()).said == (
        "Can't tell yet: no area is drawn yet, so there's nothing to count. Draw each bedding "
        "area on the map."
    )
    waits = _compared(seen, watch=replace(BARE, nights_unsorted=3))
    assert waits.startswith("Can't tell yet: the pictures are in, but not sorted. Sort")


@pytest.mark.parametrize(
    ("value", "low", "high", "words"),
    [
        (2, 2, 2, "2"),
        (0, 0, 0, "none"),
        (2, 2, 3, "2, maybe 3"),
        (2, 2, 4, "2, maybe as many as 4"),
        (0, 0, 1, "none, maybe 1"),
        (1, 0, 3, "maybe 1, anywhere from 0 to 3"),
        (2, 1, 2, "likely 2, anywhere from 1 to 2"),
    ],
)
def test_how_many_bed_there_is_said_with_its_range(
    value: float, low: float, high: float, words: str
) -> None:
    assert rivals.how_many(Figure(value, low, high)) == words


def test_more_beds_than_pictures_show_are_said_so() -> None:
    def said(*cells: float | None, pictured: int = 2, odds: float = 0.9) -> str:
        return rivals._bedded_said(Figure(*cells), pictured, odds)

    assert said(None, None, None) == "Can't tell yet how many bed here."
    assert said(2, 1, 2) == "Likely 2, anywhere from 1 to 2, bedded here at least once."
    assert said(3, 3, 4).endswith("bedded here at least once: 1 more than your pictures show.")
    assert said(2, 2, 3) == "Likely 2, maybe 3, bedded here at least once."
    assert said(0, 0, 1) == "Probably no mature buck bedded here, maybe 1."
    assert said(1, 0, 2).startswith("Maybe 1, anywhere from 0 to 2, bedded")
    # One buck of several, and nobody could say which: it said maybe 1 where the list said none.
    assert said(1, 0, 2, odds=0.19) == (
        "No mature buck stands out as bedding here, but 1 of them may have at least once (anywhere "
        "from none to 2)."
    )
    assert said(1, 0, 2, odds=0.2).startswith("Maybe 1")


@pytest.mark.parametrize(
    ("p", "second", "words"),
    [
        (None, True, "cannot tell"),
        (0.0251, True, "cannot tell"),
        (0.025, True, "Hen gives way to Brow"),
        (0.001, False, "Brow gives way to Hen"),
    ],
)
def test_who_gives_way_is_told_at_the_level_of_all_pairs(
    p: float | None, second: bool, words: str
) -> None:
    """0.05 divided by two pairs."""
    bucks = SimpleNamespace(names=("Brow", "Hen"))
    order = GivingWay(1.0, 2.0, p, second)
    assert rivals._gives_way(order, bucks, 0, 1, 2) == words


def _maker(buck: str, p: float | None, low: float = 0.0, high: float = 1.0) -> makers.Maker:
    return makers.Maker(buck, f"b-{buck}", p, low, high, 1, 10.0, "")


@pytest.mark.parametrize(
    ("found", "ties", "words"),
    [
        ([("A", 0.51, 0.3, 0.7), ("B", 0.3)], [],
         "likely A, about 1 in 2 (anywhere from 3 in 10 to 7 in 10)"),
        ([("A", 0.5, 0.4, 0.6), ("B", 0.3, 0.2, 0.39)], [],
         "can't tell for sure; A leads at about 1 in 2; B is next at about 3 in 10"),
        ([("A", 0.45, 0.4), ("B", 0.25, 0, 0.3), ("C", 0.2, 0, 0.3)], [],
         "can't tell for sure; A leads at about 4 in 10; nobody else is over 1 in 4"),
        ([("A", 0.45, 0.4), ("B", 0.25, 0, 0.3), ("C", 0.19, 0, 0.3)], [],
         "can't tell for sure; A leads at about 4 in 10; B is next at about 1 in 4"),
        ([("A", 0.5), ("B", 0.45)], ["B"], "can't tell: could be A or B"),
        ([("A", 0.4), ("B", 0.35), ("C", 0.31)], ["B", "C"], "can't tell: could be A, B or C"),
    ],
)  # fmt: skip
def test_the_likeliest_maker_is_named_at_better_than_even_odds(
    found: list[Any], ties: list[str], words: str
) -> None:
    assert makers._verdict([_maker(*one) for one in found], ties) == words


def test_a_wide_odds_is_said_as_nearly_sure() -> None:
    assert where.odds_in_words(0.991) == "over 99%"
    assert where.odds_in_words(0.99) == "nearly sure"
    assert where.odds_in_words(0.971) == "nearly sure"
    assert where.odds_in_words(0.96) == "about 19 in 20 (96%)"
    assert where.odds_in_words(0.5) == "about 1 in 2 (50%)"


def test_the_picture_an_answer_rests_on_is_named() -> None:
    seen, day = datetime(2025, 11, 3, 16, 5), date(2025, 11, 3)

    def said(days: int) -> str:
        return where._rests_on(seen, "CAM1", day + timedelta(days))

    assert said(0) == " That rests on his picture of that day: CAM1, 2025-11-03 16:05."
    assert said(1) == " Last picture the day before: CAM1, 2025-11-03 16:05."
    assert said(2) == " Last picture 2 days before: CAM1, 2025-11-03 16:05."
    assert where._rests_on(None, None, day) == ""


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "sunset"),
        (30, "30 min after sunset"),
        (-30, "30 min before sunset"),
        (60, "1 h after sunset"),
        (-150, "2 h 30 min before sunset"),
    ],
)
def test_minutes_from_the_sun_in_words(minutes: int, words: str) -> None:
    assert chances._from(minutes, "sunset") == words


def _span(anchor: str, start: int, value: float, low: float, days: int = 3) -> chances.Span:
    return chances.Span(anchor, start, start + 60, Figure(value, low, 2 * value), days)


def test_the_best_hour_or_both_ends_of_the_day_where_they_are_close() -> None:
    dusk, dawn = _span("sunset", -30, 0.4, 0.2), _span("sunrise", -30, 0.19, 0.1)
    assert chances.best_in_words([]) is None
    assert chances.best_in_words([replace(dusk, days=0)]) is None
    hour = "30 min before sunset to 30 min after sunset"
    said = f"{hour}, about 4 days in 10 (anywhere from 1 in 5 to 8 in 10; 40%)"
    assert chances.best_in_words([dusk, dawn]) == said
    assert chances.best_in_words([dusk]) == said
    near = _span("sunrise", -30, 0.2, 0.1)
    assert chances.best_in_words([dusk, near]) == (
        "either last light (about 4 days in 10) or first light (about 1 day in 5)"
    )
    same = _span("sunrise", 30, 0.4, 0.1)
    both = [dusk, same, replace(near, chance=Figure(0.1, 0, 1))]
    assert chances.best_in_words(both) == (
        "either last light or 30 min after sunrise to 1 h 30 min after sunrise, about 4 days in 10 "
        "each"
    )


def test_the_back_test_says_whether_it_beats_the_average() -> None:
    none = chances.BackTest(0, None, None, None, None, ())
    assert none.in_words() == "Too few days to test forecasts on: 0, at least 14 needed."
    one = chances.BackTest(30, 0.2, 0.15, 0.0979, 0.1, (), better=True)
    assert one.in_words() == (
        "Checked on 30 past days, knowing only what you'd have known a week ahead: we'd have said "
        "about 1 in 5, it was about 1 in 7. Going by the time of season beats just using his "
        "average."
    )
    assert "That's too high, but going by" in replace(one, happened=0.1).in_words()
    assert "That's too low, but going by" in replace(one, happened=0.4).in_words()
    none = replace(one, better=False)
    no_better = (
        "he time of season is no better than just using his average, so go by that: about 1 day in "
    )
    assert none.in_words().endswith(f" T{no_better}7.")
    assert none.in_words(0.25).endswith(f" T{no_better}4.")
    assert replace(none, happened=0.1).in_words().endswith(f" That's too high, and t{no_better}10.")
    assert replace(one, days=13).in_words().startswith("Too few days to test forecasts on: 13,")
    assert replace(one, days=14).in_words().startswith("Checked on 14")


def test_a_part_is_gone_by_after_three_weeks_that_show_it() -> None:
    """Gains of weeks are held against their own error: 3 and 1 and 1 against 3.3, not 3 and 1."""
    share, was = 0.0, np.array([1, 1])

    def week(start: int, said: float) -> chances._Week:
        return chances._Week(start, np.full(2, said), share, was)

    right, wrong = week(0, 1.0), week(7, -0.5)
    assert (right.gain, wrong.gain) == (2.0, -2.5)
    assert not chances._beats([right, right])
    assert chances._beats([right, right, right])
    assert not chances._beats([right, right, wrong])
    # Forecast by its part: only from weeks that were over a week before it.
    weeks = [week(7 * i, 1.0) for i in range(6)]
    assert [chances._forecast(one, weeks).tolist() for one in weeks[3:]] == [
        [0.0, 0.0], [1.0, 1.0], [1.0, 1.0],
    ]  # fmt: skip


def test_forecasts_are_kept_by_range_and_parts_by_day() -> None:
    said = np.array([0.04, 0.05, 0.09, 0.4, 0.6])
    found = chances._calibration(said, np.array([0, 1, 0, 1, 1]))
    assert [(round(c.forecast, 3), c.happened.value, c.happened.n) for c in found] == [
        (0.04, 0.0, 1), (0.07, 0.5, 2), (0.4, 1.0, 1), (0.6, 1.0, 1),
    ]  # fmt: skip
    parts = [
        SeasonPart("a", date(2025, 10, 2), date(2025, 10, 3)),
        SeasonPart("b", date(2025, 10, 3), date(2025, 10, 4)),
    ]
    by_day = chances.parts_by_day(np.datetime64("2025-10-01"), 5, parts)
    assert by_day.tolist() == [-1, 0, 1, 1, -1]


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "hardly ever"),
        (0.0049, "hardly ever"),
        (0.005, "1 in 200"),
        (0.1, "1 in 10"),
        (0.2, "1 in 5"),
        (0.31, "1 in 3"),
        (0.4, "4 in 10"),
        (0.5, "1 in 2"),
        (0.66, "2 in 3"),
        (0.75, "3 in 4"),
        (0.8, "8 in 10"),
        (0.92, "9 in 10"),
        (0.94, "19 in 20"),
        (0.96, "19 in 20"),
        (0.98, "nearly always"),
        (1.0, "nearly always"),
    ],
)
def test_chances_as_people_say_them(chance: float, words: str) -> None:
    assert one_in(chance) == words
    assert about(chance) == (f"about {words}" if words[0].isdigit() else words)


def test_odds_carry_their_interval() -> None:
    assert odds(None, None, None) == "can't tell how often"
    assert odds(0.2, 0.1, 0.5) == "about 1 day in 5 (anywhere from 1 in 10 to 1 in 2; 20%)"
    assert odds(0.019, None, None).endswith("(anywhere from hardly ever to nearly always; 1.9%)")
    assert odds(0.02, 0.0, 0.1).endswith("; 2%)")
    assert about(0.4, "day") == "about 4 days in 10"
    assert (counted(1, "pass"), counted(2, "pass"), counted(0, "day")) == (
        "1 pass", "2 passes", "0 days")  # fmt: skip
    assert reasons("a", None, ["b", ""], ()) == ("a", "b")


def test_watch_is_said_in_one_line() -> None:
    assert BARE.in_words() == "no camera close enough"
    assert (
        WATCH.in_words() == "1 camera close enough, 20 nights covered from 2025-10-01 to 2025-10-20"
    )
    waits = replace(WATCH, nights_unsorted=1, nights_watched=1)
    assert waits.in_words().endswith(
        "1 night covered from 2025-10-01 to 2025-10-20; 1 of 2 nights isn't sorted, so it "
        "doesn't count yet"
    )
    only = Watch(("A", "B"), 0, 0, None, None, 3)
    assert only.in_words() == (
        "2 cameras close enough, no night covered; 3 of 3 nights aren't sorted, so they don't "
        "count yet"
    )
    assert nothing_watched([only, BARE]) == (
        "The pictures are in, but not sorted. Sort them first."
    )
    assert nothing_watched([BARE]) == "No camera was up close enough then."
    hung = [replace(BARE, hung=("CAM02", "CAM01")), replace(BARE, hung=("CAM01",))]
    assert nothing_watched(hung) == (
        "No picture from CAM01 or CAM02 covers that time: load the card, if you have it."
    )
    taken_down = replace(BARE, cameras=("CAM01",), hung=())
    assert nothing_watched([taken_down]) == "No camera was up close enough then."
    many = replace(BARE, hung=tuple(f"C{n}" for n in range(9)))
    assert "from C0, C1, C2, C3, C4 or 4 more covers that" in nothing_watched([many])


def test_any_value_as_json_and_as_one_cell() -> None:
    local = datetime(2025, 11, 1, 6, tzinfo=timezone(timedelta(hours=-4)))
    given = {
        "at": datetime(2025, 11, 1, 6), "there": local, "day": date(2025, 11, 1), "x": float("nan"),
        "n": 3, "many": ({"a": 1.5},), "path": Path("a"), "figure": Figure(1.0, None, None, n=2),
    }  # fmt: skip
    assert plain(given) == {
        "at": "2025-11-01T06:00:00+00:00", "there": "2025-11-01T06:00:00-04:00",
        "day": "2025-11-01", "x": None, "n": 3, "many": [{"a": 1.5}], "path": "a",
        "figure": {"value": 1.0, "low": None, "high": None, "n": 2},
    }  # fmt: skip
    cells = {"f": Estimate(1.0, 0.5, 2.0), "names": ("a", "b"), "w": WATCH, "m": {"k": 1}}
    flat = flatten(cells | {"rows": (Figure(0.123456, None, 1.0, method="m"),)})
    assert (flat["f"], flat["f_low"]) == (1.0, 0.5)
    assert (flat["names"], flat["m"], flat["w_nights_watched"]) == ("a; b", '{"k": 1}', 20)
    assert flat["rows"] == "0.1235 1 m"


def test_months_are_cut_off_at_the_ends() -> None:
    found = months(date(2025, 11, 3), date(2026, 1, 9))
    assert [(p.name, p.first.day, p.last.day) for p in found] == [
        ("November 2025", 3, 30), ("December 2025", 1, 31), ("January 2026", 1, 9),
    ]  # fmt: skip
    assert months(date(2025, 11, 3), date(2025, 11, 2)) == []


def _buck(name: str, word: str, **more: Any) -> bedded.BeddedBuck:
    given = {
        "buck": name, "buck_id": name, "mornings": 0, "evenings": 0, "both": 0, "directed_days": 0,
        "inside_days": 0, "days_bedded": Figure(5.4, 3.0, 8.0), "share": Figure(0.5, 0, 1),
        "three_days": 0.5, "one_day": 0.5, "contradicting_days": 0, "verdict": word,
        "said": f"May bed here: {name} was seen", "why": (),
    } | more  # fmt: skip
    return bedded.BeddedBuck(**given)


def test_an_area_is_called_by_its_likeliest_living_buck_or_its_sign() -> None:
    sure, gone = _buck("Brow", "confirmed"), _buck("Old", "confirmed", ended=date(2025, 11, 1))
    assert beds.area_verdict([sure], SIGN, 20) == ("confirmed", "Brow was seen")
    maybe = _buck("Hen", "possible")
    assert beds.area_verdict([gone, maybe], SIGN, 20) == ("possible", "Hen was seen")
    none = _buck("Tin", "not shown")
    found = replace(SIGN, beds=1)
    assert beds.area_verdict([none], found, 20) == (
        "possible", "1 bed found nearby")  # fmt: skip
    assert beds.area_verdict([none], SIGN, 10) == (
        "not shown", "nothing in 10 days covered at dawn and dusk points to a bed")  # fmt: skip
    assert beds.area_verdict([none], SIGN, 9) == (
        "not enough watch", "9 days covered at dawn and dusk, too few to say")  # fmt: skip
    assert beds.area_verdict([none], SIGN, 20, "7 wait") == ("not enough watch", "7 wait")
    assert beds.area_verdict([none], found, 20, "7 wait")[0] == "possible"


def _watched(days: int, unsorted: int = 0) -> Watch:
    return Watch(("CAM1",), days, days, date(2025, 9, 1), date(2025, 12, 1), unsorted)


def test_the_headline_gives_the_days_and_a_range_where_that_tells_more() -> None:
    sure = _buck("Brow", "confirmed")
    said = bedded.said_of("confirmed", "Brow was seen", [sure], _watched(20))
    assert (
        said == "Brow beds here. He was seen. Counting days he slipped past the cameras, he bedded "
        "here on about 5 of 20 days."
    )
    likely = replace(sure, verdict="likely", days_bedded=Figure(2.0, 0.0, 6.0))
    assert bedded._days_said(likely, 20).endswith("anywhere from none to 6 of 20 days.")
    inside = replace(likely, days_bedded=Figure(2.0, 2.0, 6.0))
    assert bedded._days_said(inside, 20).endswith("from 2 to 6 of 20 days.")
    assert bedded.said_of("not shown", "x", [], _watched(12)) == (
        "Probably no buck beds here: nothing shows one in 12 days covered at dawn and dusk."
    )
    assert bedded.said_of("not enough watch", "x", [], _watched(12, 20)) == (
        "Can't tell yet: 20 of 32 nights aren't sorted, so they don't count yet. Sort them first."
    )
    assert (
        bedded.said_of("possible", "x", [], _watched(12))
        == "A buck may bed here: x, but no picture shows a buck bedding here."
    )


def test_what_bedding_said_of_mature_bucks_is_not_said_again_behind_it() -> None:
    bed = Figure(1.0, 0.0, 3.0)
    many = rivals.Rivals("Knob", "a-1", (), 2, bed, bed, None, bed, (), _watched(20), "", (),
                         likeliest=0.1)  # fmt: skip
    line = f"{bedded.no_one(bed)}."
    assert line == (
        "No mature buck stands out as bedding here, but 1 of them may have at least once (anywhere "
        "from none to 3)."
    )
    assert many.said == f"At least 2 mature bucks use Knob. {line}"
    assert many.behind("Twig may bed here.") == many.said
    assert many.behind(f"Twig may bed here. {line}") == "At least 2 mature bucks use Knob."


def test_mature_bucks_are_shown_first_and_an_age_with_the_name() -> None:
    young, old, none = _buck("Y", "likely", age=2.5), _buck("O", "likely", age=3.5), _buck("N", "x")
    assert bedded.oldest_first([young, old, none], 3.5) == [old, young, none]
    assert bedded.mature_before([young, old, none], 3.5) == (old, young, none)
    assert (young.named, none.named) == ("Y (2.5)", "N (no age yet)")


def test_a_mature_buck_goes_before_a_younger_one_who_is_no_surer() -> None:
    sure = _buck("Y", "confirmed", age=1.5)
    close = _buck("O", "likely", age=5.5, days_bedded=Figure(3.0, 1.0, 6.0))
    assert bedded.mature_before([sure, close], 3.5) == (close, sure)
    rarer = replace(close, days_bedded=Figure(2.0, 1.0, 2.9))
    assert bedded.mature_before([sure, rarer], 3.5) == (sure, rarer)
    # Who hardly beds there, or is gone, goes before nobody who does.
    for least in (replace(close, verdict="not shown"), replace(close, ended=date(2025, 11, 1))):
        assert bedded.mature_before([sure, least], 3.5) == (sure, least)
    said = bedded.said_of("likely", "O was seen", (close, sure), _watched(20), 3.5)
    assert said.startswith("O probably beds here.") and said.endswith(" Y (1.5) beds here too.")
    guess = replace(sure, verdict="likely", days_bedded=Figure(3.0, 1.0, 6.0), mornings=1)
    said = bedded.said_of("likely", "O was seen", (close, guess), _watched(20), 3.5)
    assert said.endswith(" Y (1.5) may bed here too.")
    # Nobody is passed over where he comes first by what was seen.
    often = replace(close, verdict="confirmed", days_bedded=Figure(9.0, 5.0, 12.0))
    clear = bedded.said_of("confirmed", "O was seen", (often, sure), _watched(20), 3.5)
    assert "here too" not in clear
    alone = bedded.said_of("likely", "O was seen", (close, replace(sure, verdict="possible")),
                           _watched(20), 3.5)  # fmt: skip
    assert "may bed here too" not in alone


@pytest.mark.parametrize("nights", [9, 10])
def test_fewer_than_ten_nights_are_not_enough_watch(nights: int) -> None:
    """The first night counts, so a camera from October 1 to 9 watched nine."""
    world = World()
    world.buck("Brow", 5.5)
    world.area("Bench", (0, 0), 80)
    hung = world.camera("CAM1", (150, 0), date(2025, 10, 1), date(2025, 10, nights))
    world.seen("b-brow", hung, "2025-10-03 16:00", "2025-10-05 16:00")
    made = (date(2025, 10, 1), date(2025, 10, nights))
    world.sign("rub", (150, 20), made[1], made, sign="s-rub")
    session = world.session()
    everywhere = scope_of(session)
    here = scope_of(session, ["Brow"], ["Bench"])
    whys = [
        visits(session, everywhere).rows[0].why,
        visits(session, everywhere).why,
        when(session, here, band=False, test=False).why,
        compare(session, everywhere).rows[0].why,
        rivals.rivals(session, here, pairs=False).why,
        makers.makers(session, everywhere, "s-rub").why,
    ]
    few = nights < 10
    assert [any(THIN in line for line in why) for why in whys] == [few] * len(whys)
    assert ("too few days to go by" in visits(session, everywhere).said) == few
    maker = makers.makers(session, everywhere, "s-rub")
    assert (maker.makers[0].p is None) == few
    assert maker.verdict.startswith("can't tell: only 9 camera nights") == few
    bed = beds.bedding(session, here)
    # Whole days begin a day later: nine of ten nights are still too few.
    assert any(f"{THIN}: {nights - 1} whole days" in line for line in bed.why)


def test_areas_nobody_watched_come_last_and_the_others_by_what_is_expected_of_them() -> None:
    """By the model's walks; without a model by the low end of the rate, never by its middle."""
    rate = SimpleNamespace(estimate=lambda: Figure(0.5, 0.2, 1))

    def order(nights: int, seen: int, walks: float | None) -> tuple[bool, float]:
        row = _row(nights_watched=nights, visits=seen,
                   evening_walks_per_10_days=Figure(walks, None, None))  # fmt: skip
        return compare_order(SimpleNamespace(row=row, rate=rate, counts=row.nights_watched > 0))

    assert order(1, 1, 3.0) == order(1, 0, 3.0) == (False, -3.0)
    assert order(1, 1, None) == (False, -0.2)
    assert order(0, 1, None) == order(0, 0, None) == (True, -0.2)
