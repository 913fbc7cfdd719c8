"""Watch: the silence rule against scipy's beta-binomial, small cases by hand, invented seasons."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows, say
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom

from camsign.answers.nowhere import counted_nowhere
from camsign.derive.opening import open_logbook
from camsign.derive.silence import TOO_UNLIKELY, Silence, chance_of_silence, too_long
from camsign.derive.watch import Lively, Suns, Watch, alive_spans, watch_of
from camsign.flows.intake.since_last_check import since_last_check
from camsign.logbook.edits import SetFields, Subject, TagFrames

DAY = timedelta(days=1)
START = date(2025, 9, 1)
NO_OUT = np.zeros(0, dtype=bool)


def at(day: int, hour: float = 12.0) -> datetime:
    return datetime(2025, 9, 1, tzinfo=UTC) + timedelta(days=day, hours=hour)


def silences(pattern: str, out: str = "") -> list[Silence]:
    """`x` a day with a frame, `.` one without; in `out`, `o` is a day of an outage."""
    frames = np.array([c == "x" for c in pattern])
    outs = np.array([c == "o" for c in out.ljust(len(pattern), ".")])
    return too_long(frames, outs)


@given(st.integers(0, 60), st.integers(0, 30), st.integers(0, 30))
def test_chance_of_silence_is_the_beta_binomials(days: int, k: int, more: int) -> None:
    n = k + more
    expected = betabinom.pmf(0, days, k + 0.5, n - k + 0.5)
    assert chance_of_silence(days, k, n) == pytest.approx(expected, rel=1e-9)


def longest_believed(share: float, n: int = 30) -> int:
    k = round(share * n)
    return next(g for g in range(10_000) if chance_of_silence(g + 1, k, n) < TOO_UNLIKELY)


def test_how_long_a_silence_is_believed() -> None:
    # By hand for 30 of 30: 0.5/31 = 1 in 62 for one day, 0.5 * 1.5 / (31 * 32) = 1 in 1323 for two.
    assert longest_believed(1.0) == 1
    assert chance_of_silence(2, 30, 30) == pytest.approx(1 / 1322.67, rel=1e-4)
    assert 3 <= longest_believed(0.8) <= 6
    assert 9 <= longest_believed(0.5) <= 14
    assert 30 <= longest_believed(0.2) <= 60
    # One day in thirty: no silence of a season says anything.
    assert longest_believed(1 / 30) > 365


def test_a_busy_camera_is_not_alive_for_weeks() -> None:
    assert silences("x" * 30 + "." * 7 + "x" * 30) == [Silence(30, 37)]
    assert silences("x" * 30 + "." + "x" * 30) == []


def test_a_quiet_camera_is_not_dead_for_being_quiet() -> None:
    quiet = "x" + "." * 13
    assert silences(quiet * 5 + "." * 30 + quiet * 5 + "x") == []


def test_the_quieter_side_decides() -> None:
    # Busy in summer, once a week in autumn: ten days at the turn are no failure.
    assert silences("x" * 40 + "." * 10 + "x......" * 6 + "x") == []
    assert silences("x" * 40 + "." * 10 + "x" * 40) == [Silence(40, 50)]


def test_dead_days_say_nothing_of_the_rate() -> None:
    pattern = "x" * 20 + "." * 12 + "x" * 3 + "." * 12 + "x" * 20
    assert silences(pattern) == [Silence(20, 32), Silence(35, 47)]


def test_days_in_an_outage_are_not_silent() -> None:
    pattern = "x" * 30 + "." * 7 + "x" * 30
    assert silences(pattern, "." * 30 + "o" * 6) == []


def instants(*times: datetime | date) -> np.ndarray:
    plain = [t.replace(tzinfo=None) if isinstance(t, datetime) else t for t in times]
    return np.array(plain, "datetime64[us]")


def lively(*days: int, first: float = 12.0, last: float = 12.0) -> Lively:
    dates = instants(*(START + d * DAY for d in days))
    return Lively(
        dates, instants(*(at(d, first) for d in days)), instants(*(at(d, last) for d in days))
    )


def suns(n: int) -> Suns:
    """Sunrise at 10:30 UTC, sunset at 23:30 UTC: September at 70° W, local is UTC-4."""
    days = instants(*(START + d * DAY for d in range(n)))
    rises = instants(*(at(d, 10.5) for d in range(n + 1)))
    return Suns(days, rises[:-1], instants(*(at(d, 23.5) for d in range(n))), rises[1:])


def told(watch: Watch) -> dict[int, str]:
    assert list(watch.watched) == [why is None for why in watch.why]
    nights = watch.night.astype("datetime64[D]").tolist()
    whys = zip(nights, watch.why, strict=True)
    return {(night - START).days: why or "watched" for night, why in whys}


def test_alive_from_hanging_to_the_last_sign_of_life() -> None:
    spans = alive_spans(lively(0, 2, 5), [], "UTC")
    assert spans == [(at(0), at(5))]


def test_too_long_a_silence_parts_the_spans_at_the_frames_around_it() -> None:
    days = [*range(30), *range(37, 67)]
    spans = alive_spans(lively(*days, first=11, last=20), [], "UTC")
    assert spans == [(at(0, 11), at(29, 20)), (at(37, 11), at(66, 20))]


def test_nights_by_hand() -> None:
    # Hung on day 0 at noon UTC; last frame on day 4 at noon; taken down on day 7 at noon.
    alive = [(at(0), at(4))]
    outage = [(at(2, 22), at(2, 23.75))]
    watch = watch_of(suns(10), alive, outage, at(7))
    assert told(watch) == {
        0: "watched",
        1: "watched",
        2: "outage",
        3: "watched",
        4: "after the last sign of life",
        5: "after the last sign of life",
        6: "after the last sign of life",
    }
    # Day 0 was begun at 8 o'clock local, day 2 has an outage about sunset, day 4 ends at noon.
    assert list(watch.day_watched) == [False, True, False, True, False, False, False]


def test_nights_begun_or_ended_in_the_dark_are_only_parts() -> None:
    alive = [(at(0, 26), at(3, 2))]
    assert told(watch_of(suns(6), alive, [], at(3, 2))) == {
        0: "only part of it",
        1: "watched",
        2: "only part of it",
    }


def test_while_it_hangs_the_last_sign_of_life_is_the_end() -> None:
    watch = watch_of(suns(9), [(at(0), at(3, 26))], [], None)
    assert told(watch)[3] == "after the last sign of life"
    assert max(told(watch)) == 3


def test_silent_nights_lie_between_the_spans() -> None:
    watch = watch_of(suns(9), [(at(0), at(2)), (at(5), at(8))], [], at(8))
    assert [told(watch)[d] for d in range(1, 6)] == [
        "watched", "silent", "silent", "silent", "watched",
    ]  # fmt: skip


def season(rng: np.random.Generator, days: int, low: float, high: float) -> np.ndarray:
    """Days with frames of a camera whose rate wanders slowly (logit random walk) within limits."""
    walk = np.cumsum(rng.normal(0, 0.15, days)) + rng.normal(0, 0.8)
    share = low + (high - low) / (1 + np.exp(-walk))
    frames = rng.random(days) < share
    frames[0] = frames[-1] = True
    return frames


def test_living_cameras_whose_rate_wanders_lose_few_nights() -> None:
    rng = np.random.default_rng(4)
    lost = total = 0
    for _ in range(300):
        frames = season(rng, 120, 0.02, 0.98)
        lost += sum(s.stop - s.start for s in too_long(frames, np.zeros(120, dtype=bool)))
        total += 120
    assert lost / total < 0.02


def test_three_dead_weeks_of_busy_cameras_are_found() -> None:
    rng = np.random.default_rng(5)
    found = 0
    for _ in range(200):
        frames = season(rng, 120, 0.5, 0.98)
        frames[50:71] = False
        found += any(s.start <= 50 and s.stop >= 71 for s in too_long(frames, frames & False))
    assert found / 200 > 0.9


@pytest.mark.thorough
def test_from_cards_to_watch(tmp_path: Path) -> None:
    home = book(tmp_path / "b")
    # A frame at 22 local each day from 1 to 20 September, none after; down on 1 October.
    shots = [Shot(f"2025-09-{d:02d}T22:00:00") for d in range(1, 21)]
    put_card(home, "k", "CAM1", shots)
    down = "2025-10-01T16:00:00Z"
    said = hang("CAM1", "2025-09-01T16:00:00Z", down)
    say(home, said)
    count = "SELECT coalesce(why, 'watched'), count(*) FROM watch GROUP BY ALL ORDER BY ALL"
    assert rows(home, count) == [("after the last sign of life", 11), ("watched", 19)]
    # A take-down at which it worked is a sign of life; eleven silent days of so busy a camera are
    # too many all the same.
    say(home, hang("CAM1", "2025-09-01T16:00:00Z", down, worked_to_end=True))
    assert rows(home, count) == [("silent", 11), ("watched", 19)]
    out = {"camera": "CAM1", "start": "2025-09-21T16:00:00Z", "stop": "2025-09-30T16:00:00Z"}
    say(home, SetFields("outage", "o-1", out))
    assert rows(home, count) == [("outage", 9), ("watched", 21)]
    say(home, SetFields("outage", "o-1", {"gone": True}))
    assert rows(home, count) == [("silent", 11), ("watched", 19)]


@pytest.mark.thorough
def test_where_the_sun_does_not_set_the_night_is_six_to_six(tmp_path: Path) -> None:
    home = book(tmp_path / "b")
    put_card(home, "k", "CAM1", [Shot(f"2025-06-{d:02d}T12:00:00") for d in range(11, 21)])
    place = {"at": (71.0, 25.8), "tz": "Europe/Oslo"}
    say(home, hang("CAM1", "2025-06-10T08:00:00Z", "2025-06-20T20:00:00Z", **place))
    assert rows(home, "SELECT count(*) FROM sun_days WHERE sunset IS NOT NULL") == [(0,)]
    assert rows(home, "SELECT count(*) FILTER (watched), count(*) FROM watch") == [(10, 11)]


def test_nights_whose_pictures_have_doubtful_times_are_not_covered(tmp_path: Path) -> None:
    """A clock that began anew was placed by a guess. No answer counts such pictures, but their
    nights counted as covered: he seemed to come half as often, and never in the second half."""
    home = book(tmp_path / "b")
    shown = [f"2025-09-{d:02d}T22:00:00" for d in range(2, 11)]
    shown += [f"2020-01-{d:02d}T22:00:00" for d in range(1, 11)]
    frames = put_card(home, "k", "CAM1", [Shot(at) for at in shown])
    said = hang("CAM1", "2025-09-01T16:00:00Z", "2025-09-21T16:00:00Z", worked_to_end=True)
    true = [["2020-01-01T22:00:00", "2025-09-12T02:00:00Z"]]
    fix = {"camera": "CAM1", "kind": "pairs", "value": true, "shown_until": "2021-01-01T00:00:00"}
    buck = Subject("animal", "b-1", species="deer", sex="male")
    say(home, said, SetFields("buck", "b-1", {"name": "Umber"}), TagFrames(buck, frames))
    say(home, SetFields("clock_fix", "c-1", fix))
    count = "SELECT coalesce(why, 'watched'), count(*), count(*) FILTER (day_watched) FROM watch"
    assert rows(home, f"{count} GROUP BY ALL") == [("watched", 20, 19)]
    say(home, SetFields("clock_fix", "c-1", {"estimated": True}))
    # The nights of the 11th to the 20th. The 11th itself ended over two hours before the first,
    # and on the first day it was hung at noon.
    found = rows(home, f"{count} GROUP BY ALL ORDER BY ALL")
    assert found == [("doubtful times", 10, 1), ("watched", 10, 9)]
    with open_logbook(home) as session:
        (told,) = counted_nowhere(session)
        assert told.startswith("10 tagged pictures count in no answer, nor do their nights")
        assert told.endswith("See: camsign frames --camera CAM1 --doubtful")
        # It worked, whatever its clock showed.
        since = since_last_check(session, "CAM1", ["k"], False)
        assert since.nights_watched == since.nights
    assert derived(home) == rebuilt(home)


def test_a_camera_without_frames_was_alive_on_the_day_it_was_hung_and_no_longer(
    tmp_path: Path,
) -> None:
    home = book(tmp_path / "b")
    say(home, hang("CAM1", "2025-09-01T16:00:00Z", "2025-09-11T16:00:00Z"))
    found = rows(home, "SELECT DISTINCT watched, why FROM watch")
    assert found == [(False, "after the last sign of life")]


def test_a_spot_whose_card_is_missing_covers_nothing_though_the_camera_worked_to_the_end(
    tmp_path: Path,
) -> None:
    home = book(tmp_path / "b")
    down = "2025-09-05T16:00:00Z"
    say(home, hang("CAM1", "2025-09-01T16:00:00Z", down, worked_to_end=True))
    assert rows(home, "SELECT DISTINCT watched FROM watch") == [(False,)]
