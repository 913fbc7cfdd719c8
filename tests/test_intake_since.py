"""After an ingest: what each camera did since its last check, and what to do next."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from random import Random

import made_cards as made
import pytest

from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.flows.intake.since import SilentSpell, spells
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.zones import zone

LAT, LON = 40.0, -75.0


@cache
def is_day(at: datetime) -> bool:
    """Whether the sun is up, by pvlib (its own implementation of NREL's algorithm)."""
    import pandas as pd
    from pvlib.solarposition import get_solarposition

    return bool(get_solarposition(pd.DatetimeIndex([at]), LAT, LON).elevation.iloc[0] > -1)


def pictures(days: list[date], ahead: timedelta = timedelta(0), seed: int = 1) -> dict[str, bytes]:
    """Four pictures a day at random times, colour or infrared by the sun, from a clock `ahead`."""
    rng, files = Random(seed), {}
    for n, day in enumerate(days):
        for i in range(4):
            midnight = datetime(day.year, day.month, day.day, tzinfo=zone(made.TZ))
            at = (midnight + timedelta(hours=6 * i + 6 * rng.random())).astimezone(UTC)
            shown = (at + ahead).astimezone(zone(made.TZ)).replace(tzinfo=None)
            k = seed * 10_000 + n * 4 + i
            picture = made.jpeg(k, made.exif(shown), grey=not is_day(at))
            files[f"DCIM/100MEDIA/IMG_{n * 4 + i + 1:04d}.JPG"] = picture
    return files


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
    # the card is read a year later: by its rate it had stopped
    assert check.stopped is not None and check.stopped.date() == date(2025, 11, 2)
    assert any("stopped" in line for line in check.next_steps)
    assert any("--untagged" in line for line in check.next_steps)


def test_a_clock_half_a_day_off_is_suspected(book: Folder, tmp_path: Path) -> None:
    files = pictures(days(date(2025, 9, 27), 16), ahead=timedelta(hours=12))
    (check,) = ingest(book, [made.fill(tmp_path / "CAM03", files)]).since
    assert len(check.clock) == 1 and any("clock audit" in line for line in check.next_steps)


def test_a_camera_that_was_never_hung_is_told_what_to_say(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "North Gate")
    (check,) = ingest(book, [made.card(tmp_path / "North Gate", 2)]).since
    assert (check.nights, check.stopped) == (0, None)
    assert check.next_steps[0] == (
        "2 frames lie outside every deployment; say where it hung: "
        'camsign hang "North Gate" --at LAT,LON --from 2025-10-01'
    )


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
