"""Names that hold a date and time: a card's order is that time, no number in it a counter."""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from pathlib import Path

import made_cards as made
import pytest

from camsign.cli import app
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest
from camsign.logbook.folder import Folder
from camsign.places.deployments import hang
from camsign.units import parse_when

AT = (44.62, -71.235)
NAMES = (
    "CREEK_%Y-%m-%d_%H-%M-%S_@.jpg",
    "CREEK_%Y-%m-%d_%H-%M-%S.jpg",
    "IMG_%Y%m%d_%H%M%S.jpg",
    "%Y%m%d_%H%M%S.jpg",
    "%Y-%m-%d %H.%M.%S.jpg",
    "%Y-%m-%dT%H-%M-%S.jpg",
    "%Y%m%d%H%M%S.jpg",
    "%Y-%m-%d %I.%M.%S %p.jpg",
)


def moments() -> list[datetime]:
    """15 bursts of three, as right clocks have them, over seven weeks."""
    chance = random.Random(1)
    start = datetime(2025, 8, 11, 11, 52)
    bursts = sorted(start + timedelta(seconds=chance.uniform(0, 50 * 86400)) for _ in range(15))
    return [at + timedelta(seconds=i) for at in bursts for i in range(3)]


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    made.logbook(tmp_path / "book", "CREEK")
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))
    book = Folder(tmp_path / "book")
    with open_logbook(book) as session:
        hang(session, "CREEK", AT, parse_when("2025-08-10"))
    return book


def audited(
    book: Folder, files: dict[str, bytes], capsys: pytest.CaptureFixture[str]
) -> tuple[str, str]:
    """What loading the files says of the clock, and what the audit prints."""
    card = made.fill(book.root.parent / "in", files)
    loaded = " ".join(line for s in ingest(book, [card], camera="CREEK").since for line in s.clock)
    capsys.readouterr()
    app.run(["clock", "audit"])
    said = capsys.readouterr()
    return loaded, " ".join((said.out + said.err).split())


@pytest.mark.parametrize("form", NAMES)
def test_right_dates_in_names_never_go_back(
    book: Folder, form: str, capsys: pytest.CaptureFixture[str]
) -> None:
    names = [at.strftime(form).replace("@", str(i % 3 + 1)) for i, at in enumerate(moments())]
    files = {name: made.jpeg(i, b"") for i, name in enumerate(names)}
    assert len(files) == 45
    loaded, audit = audited(book, files, capsys)
    assert audit.startswith("1 checked:")
    for words in (loaded, audit):
        assert "back" not in words and "clock set" not in words and "earlier time" not in words


def test_a_clock_that_was_set_back_is_found_by_the_dates_in_names(
    book: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    # A cell service named the pictures; from the 24th on their EXIF shows 20 days too early.
    files = {
        f"CREEK_{at:%Y-%m-%d_%H-%M-%S}.jpg": made.jpeg(
            i, made.exif(at - timedelta(days=20 * (i >= 24)))
        )
        for i, at in enumerate(moments())
    }
    _, audit = audited(book, files, capsys)
    assert "with a date that went back" in audit and "clock set CREEK" in audit


@pytest.mark.parametrize(
    "names",
    [
        ("IMG_0009.JPG", "IMG_0010.MP4", "IMG_0011.JPG", "IMG_0100.JPG"),
        ("2025-08-11 11.52.00 AM.jpg", "2025-08-11 12.01.00 PM.jpg", "2025-08-11 1.20.00 PM.jpg"),
        ("2025-08-11 12.01.00 AM.jpg", "2025-08-11 1.00.00 AM.jpg", "2025-08-11 12.00.00 PM.jpg"),
        ("A_20250811_115200.jpg", "A_20250811_115200_1.jpg", "A_20250811_115200_10.mp4"),
        ("Photo 2025-08-11 at 7.31.jpg", "Photo 2025-08-11 at 07.31.01.jpg"),
        ("12345678901_1.jpg", "2025081_2.jpg", "20251399_250000_3.jpg"),
    ],
)
def test_the_order_of_a_cards_files(book: Folder, names: tuple[str, ...]) -> None:
    with open_logbook(book) as session:
        numbers = [
            session.con.execute("SELECT number_of($name)", {"name": f"DCIM/100/{name}"}).fetchone()
            for name in names
        ]
    assert numbers == sorted(set(numbers))
