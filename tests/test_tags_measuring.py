"""The ruler: spread from ear tips; measurements and reference pictures in the journal."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_logbook import Book, new_book, season

from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.history import undo
from camsign.tags.bucks import merge_bucks
from camsign.tags.measuring import (
    INCH_M,
    Yardstick,
    checked_yardstick,
    measure_spread,
    measurements,
    spread,
    usual_yardstick,
)
from camsign.tags.pictures import choose_reference, drop_reference, references

LEVEL = {
    "left ear": (100, 50),
    "right ear": (260, 50),
    "left beam": (70, 20),
    "right beam": (290, 20),
}


def test_three_inches_beyond_each_ear_of_sixteen_is_twenty_two() -> None:
    """Boone and Crockett Club 2011 leaflet: ears 16 in, 3 in beyond each: 22 in spread."""
    sixteen = Yardstick(16 * INCH_M, 16 * INCH_M)
    got = spread(LEVEL, sixteen, off_px=0)
    assert got.value == pytest.approx(22 * INCH_M)
    assert got.low == got.value == got.high


def test_the_range_spans_yardstick_and_marks() -> None:
    """By hand: ears 160 px, beams 220 px, marks off by 2: 216/164 * 13 and 224/156 * 16 in."""
    got = spread(LEVEL, Yardstick(13 * INCH_M, 16 * INCH_M))
    assert got.low == pytest.approx(216 / 164 * 13 * INCH_M)
    assert got.high == pytest.approx(224 / 156 * 16 * INCH_M)
    assert got.value == pytest.approx(220 / 160 * 14.5 * INCH_M)


@given(
    st.floats(0.2, 5),
    st.floats(-500, 500),
    st.floats(-500, 500),
    st.floats(0, 6.28),
    st.floats(20, 400),
    st.floats(1, 900),
)
def test_size_place_and_turn_of_the_head_in_the_picture_do_not_matter(
    scale: float, dx: float, dy: float, turn: float, ears: float, beams: float
) -> None:
    from cmath import exp

    def put(z: complex) -> tuple[float, float]:
        at = z * scale * exp(1j * turn) + complex(dx, dy)
        return at.real, at.imag

    marks = {
        "left ear": put(-ears / 2 + 0j),
        "right ear": put(ears / 2 + 0j),
        "left beam": put(-beams / 2 - 30j),
        "right beam": put(beams / 2 - 30j),
    }
    if ears * scale < 12.1:
        return
    got = spread(marks, Yardstick(0.4, 0.4), off_px=0)
    assert got.value == pytest.approx(beams / ears * 0.4, rel=1e-6)
    wide = spread(marks, Yardstick(0.35, 0.45), off_px=1)
    assert wide.low is not None and wide.high is not None and wide.value is not None
    assert 0 <= wide.low <= wide.value <= wide.high


@pytest.mark.parametrize(
    "marks",
    [
        {},
        {**LEVEL, "left ear": None},
        {**LEVEL, "left ear": (1,)},
        {**LEVEL, "left ear": (float("nan"), 1)},
        {**LEVEL, "left ear": ("1", 1)},
        {**LEVEL, "right ear": (105, 50)},
    ],
)
def test_marks_that_do_not_fit_are_one_line(marks: dict[str, object]) -> None:
    with pytest.raises(UsageError) as e:
        spread(marks, Yardstick(0.33, 0.41))  # type: ignore[arg-type]
    assert "\n" not in str(e.value)


def test_a_yardstick_is_a_sensible_range() -> None:
    for low, high in ((0.4, 0.3), (0, 0.4), (0.3, 3)):
        with pytest.raises(UsageError):
            checked_yardstick(low, high)


@pytest.fixture
def book(tmp_path: Path) -> Book:
    book = new_book(tmp_path / "hollow")
    book.hang("CAM01", 44.1, -71.5)
    book.frames = book.card("CAM01", season(0, 2, 3), real=0)
    book.buck("Split Brow")
    book.buck("Kicker")
    return book


@pytest.mark.thorough
def test_a_measurement_belongs_to_the_buck_and_the_season_of_its_picture(book: Book) -> None:
    stick = Yardstick(13 * INCH_M, 16 * INCH_M)
    with open_logbook(book.folder) as session:
        said, estimate = measure_spread(session, "split brow", book.frames[0][:12], LEVEL, stick)
        assert said.buck == "Split Brow"
    with open_logbook(book.folder) as session:
        (one,) = measurements(session, "Split Brow")
        assert (one.buck, one.season, one.kind, one.frame) == (
            "Split Brow",
            2025,
            "spread",
            book.frames[0],
        )
        assert one.spread_m == estimate and one.yardstick == stick
        assert measurements(session, "Kicker") == []
        merge_bucks(session, "Split Brow", "Kicker")
    with open_logbook(book.folder) as session:
        assert [m.buck for m in measurements(session)] == ["Kicker"]
        undo(session)
    with open_logbook(book.folder) as session:
        undo(session)
    with open_logbook(book.folder) as session:
        assert measurements(session) == []


@pytest.mark.thorough
def test_reference_pictures_are_chosen_dropped_and_follow_a_merge(book: Book) -> None:
    for _ in range(2):
        with open_logbook(book.folder) as session:
            choose_reference(session, "Split Brow", book.frames[0], "left side")
    with open_logbook(book.folder) as session:
        choose_reference(session, "Kicker", book.frames[1])
    with open_logbook(book.folder) as session:
        got = [(r.buck, r.frame, r.note) for r in references(session)]
        assert got == [
            ("Kicker", book.frames[1], None),
            ("Split Brow", book.frames[0], "left side"),
        ]
        merge_bucks(session, "Split Brow", "Kicker")
    with open_logbook(book.folder) as session:
        assert {r.frame for r in references(session, "Kicker")} == set(book.frames[:2])
        drop_reference(session, "Kicker", book.frames[0])
    with open_logbook(book.folder) as session:
        assert [r.frame for r in references(session)] == [book.frames[1]]
        with pytest.raises(UsageError):
            drop_reference(session, "Kicker", book.frames[0])
        with pytest.raises(UsageError):
            choose_reference(session, "Kicker", "0" * 16)


@pytest.mark.thorough
def test_the_ears_of_the_region_are_a_setting(book: Book) -> None:
    with open_logbook(book.folder) as session:
        assert usual_yardstick(session) == Yardstick(13 * INCH_M, 16 * INCH_M)
    toml = book.folder.root / "logbook.toml"
    toml.write_text(toml.read_text() + "\n[ruler]\nears_in = [14, 15]\n")
    from camsign.logbook.folder import Folder

    with open_logbook(Folder(book.folder.root)) as session:
        assert usual_yardstick(session) == Yardstick(14 * INCH_M, 15 * INCH_M)
