"""After an ingest: what each camera did since its last check, and what to do next."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random

import made_cards as made
import pytest
from PIL import Image

from camsign.cli.intake import _look_back
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.intake.since_last_check import SilentSpell, SinceLastCheck, spells
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.page.cameras import cameras
from camsign.zones import zone

LAT, LON = 40.0, -75.0


@cache
def is_day(at: datetime) -> bool:
    """Whether the sun is up, by pvlib (its own implementation of NREL's algorithm)."""
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    return bool(get_solarposition(pd.DatetimeIndex([at]), LAT, LON).elevation.iloc[0] > -1)


def pictures(days: list[date], ahead: timedelta = timedelta(0), seed: int = 1) -> dict[str, bytes]:
    """Four pictures a day at random times, color or infrared by the sun, from a clock `ahead`."""
    rng, files = Random(seed), {}
    for n, day in enumerate(days):
        for i in range(4):
            midnight = datetime(day.year, day.month, day.day, tzinfo=zone(made.TZ))
            at = (midnight + timedelta(hours=6 * i + 6 * rng.random())).astimezone(UTC)
            shown = (at + ahead).astimezone(zone(made.TZ)).replace(tzinfo=None)
            k = seed * 10_000 + n * 4 + i
            picture = made.jpeg(k, made.exif(shown), gray=not is_day(at))
            files[f"DCIM/100MEDIA/IMG_{n * 4 + i + 1:04d}.JPG"] = picture
    return files


def daily(days: list[date], seed: int = 1) -> dict[str, bytes]:
    """One picture a day."""
    return dict(list(pictures(days, seed=seed).items())[2::4])


def days(first: date, n: int) -> list[date]:
    return [first + timedelta(days=i) for i in range(n)]


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    book = made.logbook(tmp_path / "book", "CAM03")
    hung = {"camera": "CAM03", "lat": LAT, "lon": LON, "hung": "2025-09-25T16:00:00Z"}
    with open_logbook(book) as session:
        session.say("hung", [SetFields("deployment", "d-1", hung)])
        session.say("buck", [SetFields("buck", "b-1", {"name": "Split Brow"})])
    return book


@pytest.mark.thorough
def test_the_check_of_one_camera_in_one_screen(book: Folder, tmp_path: Path) -> None:
    first = made.fill(tmp_path / "a" / "CAM03", pictures(days(date(2025, 9, 26), 16)))
    result = ingest(book, [first])
    (check,) = result.since
    assert (check.camera, check.last_check, check.frames) == ("CAM03", None, 64)
    # the nights of 25 September to 10 October; in that of the 11th came the last sign of life
    assert (check.nights, check.nights_watched) == (17, 16)
    assert check.silent == () and check.clock == () and check.bucks == ()

    with open_logbook(book) as session:
        known = session.con.execute("SELECT frame FROM frames ORDER BY shown LIMIT 3").fetchall()
        session.say("tagged", [TagFrames(Subject("buck", "b-1"), [f for (f,) in known])])
    silent = [*days(date(2025, 10, 12), 9), *days(date(2025, 10, 29), 5)]
    again = made.fill(first, {})  # the card was not wiped
    for name, data in pictures(silent, seed=2).items():
        made.fill(again, {name.replace("100MEDIA", "101MEDIA"): data})
    (check,) = ingest(book, [again]).since
    assert check.frames == 56 and check.untagged == 56
    assert check.last_check is not None and check.last_check.date() == date(2025, 10, 11)
    assert check.bucks == ("Split Brow",)
    # frames on 20 and 29 October; the nights between lie in days without any
    assert [(s.first, s.last) for s in check.silent] == [(date(2025, 10, 20), date(2025, 10, 28))]
    # watched: the nights of 11 to 19 October, 29 October to 1 November
    assert (check.nights, check.nights_watched) == (23, 13)
    # the card is read long after: whether it had stopped or is an old card nobody can know
    assert check.stopped is None
    assert not any("batteries" in line for line in check.next_steps)
    assert any("--untagged" in line for line in check.next_steps)


@pytest.mark.parametrize(
    ("taken_down", "stopped"),
    [
        pytest.param("2025-10-12T20:00:00Z", False, marks=pytest.mark.thorough),
        ("2025-11-20T20:00:00Z", True),
    ],
)
def test_a_stated_take_down_tells_whether_it_had_stopped(
    book: Folder, tmp_path: Path, taken_down: str, stopped: bool
) -> None:
    with open_logbook(book) as session:
        session.say("down", [SetFields("deployment", "d-1", {"taken_down": taken_down})])
    card = made.fill(tmp_path / "CAM03", daily(days(date(2025, 9, 26), 16)))
    (check,) = ingest(book, [card]).since
    assert (check.stopped is not None) == stopped
    words = "it gave nothing after 2025-10-11, but was taken down on 2025-11-20: look at its"
    assert any(line.startswith(words) for line in check.next_steps) == stopped


@pytest.mark.thorough
def test_a_take_down_that_a_move_implies_tells_nothing(book: Folder, tmp_path: Path) -> None:
    moved = "2025-11-20T20:00:00Z"
    again = {"camera": "CAM03", "lat": LAT + 0.01, "lon": LON, "hung": moved}
    with open_logbook(book) as session:
        session.say("moved", [SetFields("deployment", "d-1", {"taken_down": moved}),
                              SetFields("deployment", "d-2", again)])  # fmt: skip
    card = made.fill(tmp_path / "CAM03", daily(days(date(2025, 9, 26), 16)))
    assert ingest(book, [card]).since[0].stopped is None


@pytest.mark.thorough
def test_the_other_cards_of_a_round_tell_whether_it_had_stopped(
    book: Folder, tmp_path: Path
) -> None:
    today = datetime.now(UTC).astimezone(zone(made.TZ)).date()
    with open_logbook(book) as session:
        session.say("named a camera", [SetFields("camera", "CAM04", {"note": ""})])
    begin = today - timedelta(days=60)
    stopped = made.fill(tmp_path / "CAM03", daily(days(begin, 16)))
    assert ingest(book, [stopped]).since[0].stopped is None  # alone it may be an old card
    other = made.fill(tmp_path / "CAM04", daily(days(today - timedelta(days=8), 8), seed=2))
    ingest(book, [other])
    later = made.fill(tmp_path / "b" / "CAM03", daily(days(begin + timedelta(16), 9), seed=3))
    (check,) = ingest(book, [later]).since
    assert check.stopped is not None and check.stopped.date() == begin + timedelta(days=24)
    assert any("while the other cards of these days go on to" in s for s in check.next_steps)


@pytest.mark.thorough
def test_nothing_before_the_first_picture_or_between_cards_may_lie_on_a_card_not_loaded(
    book: Folder, tmp_path: Path
) -> None:
    """It was called `quiet longer than it should be`, as a gap on a card is."""
    a = daily(days(date(2025, 10, 20), 16))
    (check,) = ingest(book, [made.fill(tmp_path / "a" / "CAM03", a)]).since
    assert check.silent == ()
    assert [(s.first, s.last) for s in check.nothing] == [(date(2025, 9, 25), date(2025, 10, 19))]
    b = daily([*days(date(2025, 12, 1), 16), *days(date(2026, 1, 10), 16)], seed=2)
    (check,) = ingest(book, [made.fill(tmp_path / "b" / "CAM03", b)]).since
    assert [(s.first, s.last) for s in check.nothing] == [(date(2025, 11, 4), date(2025, 11, 30))]
    assert [(s.first, s.last) for s in check.silent] == [(date(2025, 12, 16), date(2026, 1, 9))]
    said = [line for line in _look_back(check) if isinstance(line, str)]
    assert (
        "  nothing from 2025-11-04 to 2025-11-30 (27 nights): a card not loaded, or was the camera "
        "down?" in said
    )
    assert "  no pictures 2025-12-16 to 2026-01-09 (25 nights)" in said
    with open_logbook(book) as session:
        (shown,), _, _ = cameras(session, None)
    assert [spell.state for spell in shown.spells if spell.state != "watched"][:3] == [
        "nothing",
        "nothing",
        "silent",
    ]
    assert shown.flags.startswith("25 nights down or quiet, 52 nights without pictures")


@pytest.mark.thorough
def test_a_clock_half_a_day_off_is_suspected(book: Folder, tmp_path: Path) -> None:
    files = pictures(days(date(2025, 9, 27), 16), ahead=timedelta(hours=12))
    (check,) = ingest(book, [made.fill(tmp_path / "CAM03", files)]).since
    assert len(check.clock) == 1 and any("clock audit" in line for line in check.next_steps)


def test_a_camera_that_was_never_hung_is_told_what_to_say(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "North Gate")
    (check,) = ingest(book, [made.card(tmp_path / "North Gate", 2)]).since
    assert (check.nights, check.stopped) == (0, None)
    assert check.next_steps[0] == (
        "2 pictures have no place: say where North Gate hung: "
        'camsign hang "North Gate" --at LAT,LON --from 2025-10-01'
    )


def test_a_picture_without_a_date_lacks_no_spot(book: Folder, tmp_path: Path) -> None:
    root = made.card(tmp_path / "CAM03", 2)
    bare = root / "DCIM" / "100MEDIA" / "BARE.JPG"
    Image.new("RGB", (64, 48), "white").save(bare)
    os.utime(bare, (0, 0))
    (check,) = ingest(book, [root], camera="CAM03").since
    assert check.frames == 3
    assert [line for line in check.next_steps if "spot" in line or "place" in line] == [
        "1 picture has no date, so it counts for no spot of CAM03"
    ]


@pytest.mark.thorough
def test_a_card_without_anything_new_sums_up_nothing(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    ingest(book, [card])
    assert ingest(book, [card]).since == ()


def test_nights_that_follow_one_another_are_one_spell() -> None:
    nights = [*days(date(2025, 10, 30), 4), *days(date(2025, 11, 9), 1)]
    assert spells(nights) == [
        SilentSpell(date(2025, 10, 30), date(2025, 11, 2), 4),
        SilentSpell(date(2025, 11, 9), date(2025, 11, 9), 1),
    ]


def test_a_card_before_its_camera_was_hung_has_no_wrong_clock(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    card = made.fill(tmp_path / "a" / "CAM03", daily(days(date(2025, 9, 26), 3)))
    (check,) = ingest(book, [card]).since
    (said,) = check.clock
    assert said.startswith(
        "it isn't on the map yet, so its clock can't be checked; hang it first: camsign"
    )
    assert not any("in doubt" in step for step in check.next_steps)


def _first_line(check: SinceLastCheck) -> str:
    return str(next(iter(_look_back(check))))


@pytest.mark.thorough
def test_several_cards_of_one_camera_are_counted_and_so_are_days_before_the_last_check(
    book: Folder, tmp_path: Path
) -> None:
    """Three cards were told as the first, and pictures of summer as taken since October."""

    def card(name: str, first: date, seed: int) -> Path:
        return made.fill(tmp_path / name / "CAM03", daily(days(first, 3), seed=seed))

    two = [card("b", date(2025, 10, 11), 2), card("c", date(2025, 10, 15), 3)]
    (check,) = ingest(book, two).since
    assert (check.cards, check.last_check, check.earlier) == (2, None, None)
    assert _first_line(check).startswith("CAM03, first 2 cards: 6 new pictures, ")
    more = [card("d", date(2025, 9, 27), 4), card("e", date(2025, 10, 19), 5)]
    (check,) = ingest(book, more).since
    assert (check.cards, check.earlier) == (2, date(2025, 9, 27))
    with open_logbook(book) as session:
        nights = session.con.execute(
            "SELECT count(*), count(*) FILTER (watched) FROM watch WHERE night >= '2025-09-27'"
        ).fetchone()
    assert (check.nights, check.nights_watched) == nights
    told = "CAM03, 2 cards from 2025-09-27 on, before your last check too: 6 new pictures, "
    assert _first_line(check).startswith(told)
    (check,) = ingest(book, [card("f", date(2025, 10, 23), 6)]).since
    assert _first_line(check).startswith("CAM03 since 2025-10-21: 3 new pictures, ")
