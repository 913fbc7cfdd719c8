"""Which bucks stand on the digits: where and when each was seen, and the last tags."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from page_logbook import HOME, START, Book, Shot, new_book

from camsign.derive.opening import open_logbook
from camsign.logbook.edits import Subject, TagFrames
from camsign.page.likely import CORE_M, DAYS, Likely, likely_bucks
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


def tag(book: Book, buck: str, camera: str, day: int) -> None:
    with open_logbook(book.folder) as session:
        row = session.con.execute("SELECT buck FROM bucks WHERE name = ?", [buck]).fetchone()
        assert row
        subject = Subject("animal", row[0], "deer", "male")
        session.say("tagged", [TagFrames(subject, [book.frames[camera][day]])])


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
    assert found[0].why == "seen here 1 day earlier"
    assert found[1].why == "seen 486 yd off 24 h earlier"
    assert found[3].why == "not seen yet" and found[3].weight == 0


@pytest.mark.thorough
def test_weights_are_as_documented(book: Book) -> None:
    """exp(-days/6) * exp(-distance/520 m), checked by hand with the distance of geographiclib."""
    from math import exp

    from geographiclib.geodesic import Geodesic

    tag(book, "Split Brow", "NEXT", 2)
    meters = Geodesic.WGS84.Inverse(*HOME, HOME[0] + 0.004, HOME[1])["s12"]
    days = 3 - 1 / 1440
    expected = exp(-meters / CORE_M) * exp(-days / DAYS)
    assert likely(book, "NEAR", 5)[0].weight == pytest.approx(expected, rel=1e-6)
    # 520 m is the radius of a circle of 86 ha.
    assert pytest.approx(86e4, rel=0.02) == 3.14159265 * CORE_M**2


@pytest.mark.thorough
def test_sightings_after_the_strip_count_too(book: Book) -> None:
    tag(book, "Kicker", "NEAR", 6)
    tag(book, "Split Brow", "NEAR", 1)
    found = likely(book, "NEAR", 5)
    assert names(found)[:2] == ["Kicker", "Split Brow"]
    assert found[0].why == "seen here 1 day later"


def test_the_strip_itself_is_no_evidence_of_itself(book: Book) -> None:
    tag(book, "Kicker", "NEAR", 5)
    assert likely(book, "NEAR", 5)[0].weight == 0


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
    assert found[0].weight > 0.8


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
    assert found[1].why.startswith("seen at OTHER")
    assert names(likely(book, "LOOSE", 5, ())) == ["Split Brow", "Kicker"]


def test_an_unknown_strip_ranks_by_the_last_tags(book: Book) -> None:
    with open_logbook(book.folder) as session:
        make_strips(session)
        assert [one.weight for one in likely_bucks(session, "f" * 16)] == [0, 0, 0, 0]
