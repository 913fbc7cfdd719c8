"""Pictures from outside a camera's days: a wrong hang date, or a clock that began anew."""

from __future__ import annotations

import re
import shlex
from datetime import date, datetime

import numpy as np
import pytest
from derive_world import Shot, book, hang, put_card, rows, say

from camsign.cli.app import run
from camsign.clock import verbs
from camsign.clock.audit import Finding
from camsign.derive.opening import open_logbook
from camsign.flows.intake.since_last_check import since_last_check
from camsign.logbook.folder import Folder
from camsign.logbook.history import undo
from camsign.places.deployments import correct_deployment
from camsign.sun import sun_height
from camsign.units import parse_when

PLACE = (44.1, -71.2)
LOADED = "2025-10-06T12:00:00Z"
DAYS = 55


@pytest.fixture
def home(tmp_path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))
    return book(tmp_path / "book")


def true_times(n: int = 300, seed: int = 1) -> np.ndarray:
    """True times [s] from Aug 10, 2025, 20:00 UTC, the first at once."""
    start = np.datetime64("2025-08-10T20:00:00", "s").astype("int64")
    later = np.random.default_rng(seed).integers(60, DAYS * 86400, n - 1)
    return np.sort(np.concatenate([[start], start + later]))


def load(home: Folder, shown: np.ndarray, true: np.ndarray, loaded: str = LOADED) -> list[str]:
    """One card of CAM1 whose pictures have the light of their true times."""
    rng = np.random.default_rng(2)
    lit = sun_height(*PLACE, true.astype("datetime64[s]")) > rng.logistic(-2, 0.6, len(true))
    times = np.asarray(shown).astype("int64").astype("datetime64[s]")
    shots = [
        Shot(str(at), light="colour" if day else "infrared")
        for at, day in zip(times, lit, strict=True)
    ]
    return put_card(home, "k", "CAM1", shots, loaded)


def from_factory(true: np.ndarray, begun: str) -> np.ndarray:
    """What a clock showed that began at its maker's date with the first picture."""
    return true - true[0] + np.datetime64(begun, "s").astype("int64")


def late(home: Folder, hung: str = "2025-09-20T04:00:00Z", loaded: str = LOADED) -> None:
    """A right clock, up since Aug 10; somebody said it hung later."""
    true = true_times()
    load(home, true - 4 * 3600, true, loaded)
    say(home, hang("CAM1", hung, at=PLACE, id="d-1"))


def judged(home: Folder) -> tuple[list[Finding], int]:
    with open_logbook(home) as s:
        found = verbs.audit(s)
        return found, len(verbs.proposals(s, found))


def years(home: Folder) -> list[tuple[int, int]]:
    return rows(home, "SELECT year(utc), count(*) FROM frame_times GROUP BY ALL ORDER BY ALL")


# Some of its pictures lie in the days it hung, none does, or it was hung after the card was loaded.
@pytest.mark.parametrize("hung", ["2025-09-20", "2025-10-05", "2025-11-20", "2026-08-01"])
@pytest.mark.parametrize("loaded", [LOADED, "2026-11-30T12:00:00Z"])
def test_a_late_hang_date_makes_no_clock_wrong(home: Folder, hung: str, loaded: str) -> None:
    late(home, f"{hung}T12:00:00Z", loaded)
    before = rows(home, "SELECT frame, utc, doubt FROM frame_times ORDER BY ALL")
    found, fixes = judged(home)
    assert fixes == 0
    older = found[-1]
    assert older.verdict == "clock or hang date"
    many = rows(home, "SELECT count(*) FROM frame_times WHERE deployment IS NULL")[0][0]
    assert many >= older.frames
    assert older.why == f"{many} pictures are older than the day you hung it ({hung})"
    assert older.remedy == (
        "Wrong hang date? camsign hang correct d-1 --from 2025-08-10. Or is the clock off?"
        ' camsign clock set CAM1 --shown "2025-08-10 16:00" --true WHEN'
        f" --from 2025-08-10 --to {max(f.clock_until for f in found):%Y-%m-%d}"
    )
    assert older.up_from == date(2025, 8, 10)
    assert older.place_by_shift_s is None and older.offset_minutes.value is None
    with open_logbook(home) as s:
        assert verbs.apply(s, found).corrections == 0
    assert rows(home, "SELECT frame, utc, doubt FROM frame_times ORDER BY ALL") == before


@pytest.mark.parametrize("hung", ["2025-08-11", "2025-08-30", "2025-09-20"])
def test_an_hour_fast_is_an_hour_and_no_day_whatever_the_hang_date(home: Folder, hung: str) -> None:
    """So that the first pictures fell into its days, all were moved 23 hours later."""
    true = true_times()
    frames = load(home, true - 3 * 3600, true)
    say(home, hang("CAM1", f"{hung}T12:00:00Z", at=PLACE, id="d-1"))
    with open_logbook(home) as s:
        running = next(f for f in verbs.audit(s) if f.verdict != "clock or hang date")
        assert running.offset_minutes.value == pytest.approx(60, abs=15)
        verbs.apply(s, verbs.audit(s))
        correct_deployment(s, "d-1", start=parse_when("2025-08-10"))
        verbs.apply(s, verbs.audit(s))
    now = dict(rows(home, "SELECT frame, epoch(utc) FROM frame_times"))
    assert max(abs(now[frame] - at) for frame, at in zip(frames, true, strict=True)) < 30 * 60


@pytest.mark.parametrize("hung", ["2025-08-11", "2025-09-20"])
def test_one_way_to_settle_a_hang_date_not_two(home: Folder, hung: str) -> None:
    """Where some pictures missed it by a day and others by weeks, each gave another day."""
    late(home, f"{hung}T12:00:00Z")
    with open_logbook(home) as s:
        told = since_last_check(s, "CAM1", ["k"], False).next_steps
    steps = [line for line in told if "--from" in line and "hang correct" in line]
    assert len(steps) == 1 and "hang correct d-1 --from 2025-08-10" in steps[0]
    n = rows(home, f"SELECT count(*) FROM frame_times WHERE utc < '{hung} 12:00'")[0][0]
    assert f"{n} picture" in steps[0]


def test_both_ways_are_told_and_correcting_the_hang_settles_it(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    late(home)
    before = rows(home, "SELECT frame, utc FROM frame_times ORDER BY ALL")
    for words in (["clock", "audit", "CAM1", "--apply"], ["clock", "audit", "--apply"]):
        assert run(words) == 0
        told = " ".join(capsys.readouterr())
        flat = " ".join(told.split())
        assert "older than the day you hung it (Sep 20, 2025). Wrong hang date?" in flat
        assert "camsign hang correct d-1 --from 2025-08-10. Or is the clock off?" in flat
        # The column's head and the row of the days whose clock is right may say slow.
        others = [
            line
            for line in told.splitlines()
            if not re.search(r"fast or slow| right | can't tell  ", line)
        ]
        assert "Fixed" not in told and not any("slow" in line for line in others)
    assert rows(home, "SELECT frame, utc FROM frame_times ORDER BY ALL") == before
    assert run(["clock", "audit"]) == 1
    assert run(["hang", "correct", "d-1", "--from", "2025-08-10"]) == 0
    found, _ = judged(home)
    assert [f.verdict for f in found] == ["right"]
    assert years(home) == [(2025, 300)]
    assert rows(home, "SELECT count(*) FROM frame_times WHERE deployment IS NULL") == [(0,)]


def test_the_other_way_out_is_to_set_the_clock(home: Folder) -> None:
    late(home)
    pair = ["--shown", "2025-08-10 16:00", "--true", "2025-09-21 16:00"]
    span = ["--from", "2025-08-10", "--to", "2025-09-18"]
    assert run(["clock", "set", "CAM1", *pair, *span]) == 0
    first = rows(home, "SELECT min(utc) FROM frame_times")
    assert first >= [(datetime(2025, 9, 18),)]


def a_month_behind(home: Folder) -> dict[str, int]:
    """A clock 30 days slow all along, of a camera that was hung when it was said to be."""
    true = true_times()
    frames = load(home, true - 4 * 3600 - 30 * 86400, true)
    say(home, hang("CAM1", "2025-08-10T12:00:00Z", at=PLACE, id="d-1"))
    return dict(zip(frames, true.tolist(), strict=True))


def off_by(home: Folder, true: dict[str, int]) -> float:
    now = rows(home, "SELECT frame, epoch(utc) FROM frame_times")
    return max(abs(at - true[frame]) for frame, at in now)


def test_a_wrong_month_is_told_of_all_that_the_clock_showed_and_set_for_all(home: Folder) -> None:
    """What ran on into the days it hung was called right, and only the rest was to be set."""
    true = a_month_behind(home)
    running, older = judged(home)[0]
    assert running.verdict == "cannot tell" and "the day is in doubt" in running.why
    assert older.verdict == "clock or hang date"
    words = shlex.split(older.remedy[older.remedy.index("camsign clock set") :])[1:]
    assert run([word.replace("WHEN", "2025-08-10 16:00") for word in words]) == 0
    assert off_by(home, true) < 60
    assert [f.verdict for f in judged(home)[0]] == ["right"]


def test_a_fix_of_only_a_part_is_found_by_the_order_of_the_files(home: Folder) -> None:
    a_month_behind(home)
    pair = ["--shown", "2025-07-11 16:00", "--true", "2025-08-10 16:00"]
    assert run(["clock", "set", "CAM1", *pair, "--from", "2025-07-11", "--to", "2025-08-08"]) == 0
    (found,) = judged(home)[0]
    assert found.verdict == "date set back"
    assert "goes back 29 days" in found.why and "the picture of 2025-08-09" in found.why


@pytest.mark.parametrize("days", [-1, 1])
def test_a_day_off_is_set_for_all_pictures_not_for_those_outside_alone(
    home: Folder, days: int
) -> None:
    true = true_times()
    frames = load(home, true - 4 * 3600 + days * 86400, true, "2025-11-06T12:00:00Z")
    down = "2025-10-05T00:00:00Z"
    say(home, hang("CAM1", "2025-08-10T12:00:00Z", down, at=PLACE, id="d-1"))
    with open_logbook(home) as s:
        first = since_last_check(s, "CAM1", ["k"], False).next_steps[0]
        (found,) = verbs.audit(s)
    assert re.search(r"the light fits, but \d+ pictures? (is|are) from outside the days", found.why)
    words = shlex.split(first[first.index("camsign clock set") :])[1:]
    shown = f"{np.datetime64(int(true[0]) - 4 * 3600, 's').item():%Y-%m-%d %H:%M}"
    assert run([word.replace("WHEN", shown) for word in words]) == 0
    assert off_by(home, dict(zip(frames, true.tolist(), strict=True))) < 60


def test_taking_a_card_in_says_which_hang_to_correct(home: Folder) -> None:
    late(home)
    with open_logbook(home) as s:
        since = since_last_check(s, "CAM1", ["k"], False)
    (n,) = rows(home, "SELECT count(*) FROM frame_times WHERE deployment IS NULL")[0]
    assert since.clock == ()
    assert since.next_steps[0].startswith(
        f"{n} pictures are older than the day you hung it (2025-09-20)."
        " Wrong hang date? camsign hang correct d-1 --from 2025-08-10."
    )
    assert not [s for s in since.next_steps if "--apply" in s or "--at" in s]


def test_pictures_of_the_day_before_the_hang_name_the_hang_too(home: Folder) -> None:
    late(home, "2025-08-11T12:00:00Z")
    with open_logbook(home) as s:
        since = since_last_check(s, "CAM1", ["k"], False)
    first = since.next_steps[0]
    assert "older than the day you hung it (2025-08-11)" in first
    assert "camsign hang correct d-1 --from 2025-08-10" in first


def test_newer_than_the_take_down_is_no_wrong_clock_either(home: Folder) -> None:
    true = true_times()
    load(home, true - 4 * 3600, true)
    say(home, hang("CAM1", "2025-08-10T04:00:00Z", "2025-09-01T04:00:00Z", at=PLACE, id="d-1"))
    found, fixes = judged(home)
    newer = found[-1]
    assert (newer.verdict, fixes, newer.up_from) == ("clock or hang date", 0, None)
    assert newer.why.endswith("pictures are newer than the day you took it down (2025-08-31)")
    last = f"{newer.clock_until:%Y-%m-%d}"
    assert f"camsign hang correct d-1 --until {last}" in newer.remedy


@pytest.mark.parametrize("begun", ["2015-01-01T00:00:00", "2020-01-01T12:00:00"])
def test_a_clock_at_its_makers_date_is_found_and_placed(home: Folder, begun: str) -> None:
    true = true_times()
    frames = load(home, from_factory(true, begun), true)
    say(home, hang("CAM1", "2025-08-10T04:00:00Z", at=PLACE, id="d-1"))
    found, fixes = judged(home)
    assert ([f.verdict for f in found], fixes) == (["impossible date"], 1)
    with open_logbook(home) as s:
        verbs.apply(s, found)
    utc = dict(rows(home, "SELECT frame, epoch(utc) FROM frame_times"))
    off = np.array([utc[f] for f in frames]) - true
    # The light gives the hour; how long it lay before it was loaded is not known.
    assert np.abs((off + 43200) % 86400 - 43200).max() < 30 * 60
    assert 0 <= off.max() <= 3 * 86400
    assert [f.verdict for f in judged(home)[0]] == ["right"]


@pytest.mark.parametrize("shown", ["1999-05-03T08:00:00", "2031-05-03T08:00:00"])
def test_dates_that_cannot_be_are_impossible_by_themselves(home: Folder, shown: str) -> None:
    true = true_times()
    load(home, from_factory(true, shown), true)
    say(home, hang("CAM1", "2025-08-10T04:00:00Z", at=PLACE, id="d-1"))
    found, fixes = judged(home)
    assert ([f.verdict for f in found], fixes) == (["impossible date"], 1)


def test_new_years_day_with_daylight_that_fits_is_an_old_card(home: Folder) -> None:
    true = true_times() - true_times()[0] + np.datetime64("2024-01-01T17:05:00", "s").astype(int)
    load(home, true - 5 * 3600, true)
    say(home, hang("CAM1", "2025-08-10T04:00:00Z", at=PLACE, id="d-1"))
    found, fixes = judged(home)
    assert ([f.verdict for f in found], fixes) == (["clock or hang date"], 0)


def test_a_fix_that_may_be_weeks_off_is_not_applied(home: Folder) -> None:
    true = true_times()
    load(home, from_factory(true, "2015-01-01T00:00:00"), true, "2026-11-30T12:00:00Z")
    say(home, hang("CAM1", "2025-08-10T04:00:00Z", at=PLACE, id="d-1"))
    found, fixes = judged(home)
    assert ([f.verdict for f in found], fixes) == (["impossible date"], 0)
    assert "its pictures may be from anywhere in 4" in found[0].why
    assert "camsign clock set CAM1 --shown" in found[0].remedy
    with open_logbook(home) as s:
        assert verbs.apply(s, found).corrections == 0
    assert years(home) == [(2015, 300)]
    with open_logbook(home) as s:
        since = since_last_check(s, "CAM1", ["k"], False)
    assert not [step for step in since.next_steps if "--apply" in step]
    # The day it came down is enough to know.
    with open_logbook(home) as s:
        correct_deployment(s, "d-1", until=parse_when("2025-10-05"))
    assert judged(home)[1] == 1


def test_a_guess_about_the_clock_falls_away_with_the_date_it_rests_on(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    true = true_times()
    load(home, from_factory(true, "2015-01-01T00:00:00"), true)
    say(home, hang("CAM1", "2025-08-10T04:00:00Z", at=PLACE, id="d-1"))
    with open_logbook(home) as s:
        verbs.apply(s, verbs.audit(s))
    with open_logbook(home) as s:
        (fix,) = verbs.corrections(s)
    assert years(home) == [(2025, 300)]
    assert run(["hang", "correct", "d-1", "--note", "on the bench"]) == 0
    assert years(home) == [(2025, 300)]
    capsys.readouterr()
    assert run(["hang", "correct", "d-1", "--from", "2025-08-09"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert f"Took back the guess about its clock ({fix.clock_fix})" in told
    assert "camsign clock audit CAM1" in told
    assert years(home) == [(2015, 300)]
    with open_logbook(home) as s:
        assert verbs.corrections(s) == []
        undo(s)
    assert years(home) == [(2025, 300)]


def test_what_a_person_said_of_the_clock_stays(home: Folder) -> None:
    late(home)
    with open_logbook(home) as s:
        verbs.set_clock(s, "CAM1", shift_s=60.0)
    with open_logbook(home) as s:
        correct_deployment(s, "d-1", start=parse_when("2025-08-10"))
        assert len(verbs.corrections(s)) == 1
