"""Which bucks stand on the digits: where and when each was seen, and the last tags."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
import simulator
from accuracy_likely import asked
from page_logbook import HOME, START, Book, Shot, new_book

from camsign.derive.opening import open_logbook
from camsign.logbook.edits import Subject, TagFrames
from camsign.page.likely import ANYBODY, MODEL, NEAR_M, Likely, likely_bucks, odds
from camsign.page.lists import make_strips


@pytest.fixture
def book(tmp_path: Path) -> Book:
    """Two cameras 445 m apart and one 11 km off, one frame a day for ten days."""
    book = new_book(tmp_path / "hollow")
    for n, camera in enumerate(("NEAR", "NEXT", "FAR")):
        book.hang(camera, HOME[0] + (0, 0.004, 0.1)[n], HOME[1])
        book.frames = getattr(book, "frames", {})
        shots = [Shot(START + timedelta(days=d, minutes=n)) for d in range(10)]
        book.frames[camera] = book.card(camera, shots, real=0)
    for name in ("Split Brow", "Old Crooked", "Kicker", "Ghost"):
        book.buck(name, f"b-0000000{len(name) % 10}")
    return book


def tag(book: Book, buck: str, camera: str, day: int, way: float | None = None) -> None:
    with open_logbook(book.folder) as session:
        row = session.con.execute("SELECT buck FROM bucks WHERE name = ?", [buck]).fetchone()
        assert row
        subject = Subject("animal", row[0], "deer", "male")
        session.say("tagged", [TagFrames(subject, [book.frames[camera][day]], travel_deg=way)])


def likely(book: Book, camera: str, day: int, last: tuple[str, ...] = ()) -> list[Likely]:
    with open_logbook(book.folder) as session:
        make_strips(session)
        ids = dict(session.con.execute("SELECT name, buck FROM bucks").fetchall())
        return likely_bucks(session, book.frames[camera][day], [ids[name] for name in last])


def names(found: list[Likely]) -> list[str]:
    return [one.buck for one in found]


@pytest.mark.thorough
def test_who_was_here_last_comes_before_who_was_near_or_long_ago(book: Book) -> None:
    tag(book, "Split Brow", "NEAR", 4)
    tag(book, "Old Crooked", "NEXT", 4)
    tag(book, "Kicker", "FAR", 5)
    found = likely(book, "NEAR", 5)
    assert names(found) == ["Split Brow", "Old Crooked", "Kicker", "Ghost"]
    assert found[0].why == "1 in 2: seen here 1 day earlier"
    assert found[1].why == "1 in 5: seen 486 yd off 24 h earlier"
    assert found[3].why == "1 in 6: not seen yet" and not found[3].seen
    assert sum(one.odds for one in found) == pytest.approx(1)


@pytest.mark.thorough
def test_odds_are_as_documented(book: Book) -> None:
    """Two visits, worked by hand with the distance of geographiclib; 0.6 shared by four bucks."""
    from math import exp

    from geographiclib.geodesic import Geodesic

    tag(book, "Split Brow", "NEXT", 2)
    tag(book, "Split Brow", "NEAR", 3)
    meters = Geodesic.WGS84.Inverse(*HOME, HOME[0] + 0.004, HOME[1])["s12"]
    unknown = 1 - MODEL["ways"] + MODEL["ways"] * MODEL["any_way"]
    next_ = (exp(-(3 - 1 / 1440)) + 0.05) * exp(-meters / NEAR_M) * unknown
    weight = next_ + (exp(-2) + 0.05) * unknown
    found = likely(book, "NEAR", 5)
    assert found[0].odds == pytest.approx((weight + 0.15) / (weight + ANYBODY), rel=1e-6)
    assert found[1].odds == pytest.approx(0.15 / (weight + ANYBODY), rel=1e-6)


def test_any_way_is_the_mean_over_all_ways() -> None:
    from math import cos, exp, pi

    mean = sum(exp(2 * (cos(2 * pi * k / 360) - 1)) for k in range(360)) / 360
    assert MODEL["any_way"] == pytest.approx(mean, abs=0.005)


def test_who_goes_the_same_way_comes_before_who_goes_another(book: Book) -> None:
    tag(book, "Split Brow", "NEAR", 3, way=270)
    tag(book, "Kicker", "NEAR", 4, way=90)
    assert names(likely(book, "NEAR", 7))[0] == "Kicker"
    with open_logbook(book.folder) as session:
        doe = Subject("animal", None, "deer", "female")
        session.say("tagged", [TagFrames(doe, [book.frames["NEAR"][7]], travel_deg=280)])
    assert names(likely(book, "NEAR", 7))[0] == "Split Brow"


def test_two_visits_say_more_than_one(book: Book) -> None:
    tag(book, "Split Brow", "NEAR", 2)
    one = likely(book, "NEAR", 5)[0].odds
    tag(book, "Split Brow", "NEAR", 1)
    assert likely(book, "NEAR", 5)[0].odds > one


def test_odds_without_a_buck() -> None:
    assert odds({}) == {}


@pytest.mark.thorough
def test_sightings_after_the_strip_count_too(book: Book) -> None:
    tag(book, "Kicker", "NEAR", 6)
    tag(book, "Split Brow", "NEAR", 1)
    found = likely(book, "NEAR", 5)
    assert names(found)[:2] == ["Kicker", "Split Brow"]
    assert found[0].why.endswith("seen here 1 day later")


def test_the_strip_itself_is_no_evidence_of_itself(book: Book) -> None:
    tag(book, "Kicker", "NEAR", 5)
    found = likely(book, "NEAR", 5)
    assert not found[0].seen and found[0].why == "not seen yet"


def test_last_tags_lift_a_buck_but_not_over_one_who_was_just_here(book: Book) -> None:
    tag(book, "Split Brow", "NEAR", 4)
    assert names(likely(book, "NEAR", 5, ("Ghost", "Kicker")))[:3] == [
        "Split Brow",
        "Ghost",
        "Kicker",
    ]


@pytest.mark.thorough
def test_a_merged_buck_is_who_he_is_now(book: Book) -> None:
    tag(book, "Split Brow", "NEAR", 4)
    with open_logbook(book.folder) as session:
        from camsign.tags.bucks import merge_bucks

        merge_bucks(session, "Split Brow", "Kicker")
    found = likely(book, "NEAR", 5)
    assert names(found) == ["Kicker", "Ghost", "Old Crooked"]
    assert found[0].seen and found[0].odds > 0.5


@pytest.mark.thorough
def test_cameras_without_a_place_still_know_their_own(tmp_path: Path) -> None:
    book = new_book(tmp_path / "hollow")
    shots = [Shot(START + timedelta(days=d)) for d in range(6)]
    book.frames = {"LOOSE": book.card("LOOSE", shots, real=0)}
    book.frames["OTHER"] = book.card(
        "OTHER", [Shot(s.shown + timedelta(hours=1)) for s in shots], real=0
    )
    for name in ("Split Brow", "Kicker"):
        book.buck(name)
    tag(book, "Kicker", "OTHER", 4)
    tag(book, "Split Brow", "LOOSE", 4)
    found = likely(book, "LOOSE", 5)
    assert names(found) == ["Split Brow", "Kicker"]
    assert "seen at OTHER" in found[1].why
    assert names(likely(book, "LOOSE", 5, ())) == ["Split Brow", "Kicker"]


def test_an_unknown_strip_ranks_by_the_last_tags(book: Book) -> None:
    with open_logbook(book.folder) as session:
        make_strips(session)
        assert [one.odds for one in likely_bucks(session, "f" * 16)] == [0.25] * 4


@pytest.mark.thorough
def test_odds_come_true_in_a_season_and_tell_more_than_shares() -> None:
    some = list(asked(simulator.season(simulator.Plan(), 71_000, 200).session))
    assert len(some) > 150
    score = np.mean([np.log(one.odds[one.was]) for one in some])
    assert score > np.mean([np.log(one.share) for one in some]) + 0.2
    high = [(p, k == one.was) for one in some for k, p in enumerate(one.odds) if p >= 0.4]
    said, came = np.mean(high, axis=0)
    assert came == pytest.approx(said, abs=0.12)
