"""One camera said for what is plainly several cameras': refused before anything is copied."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import made_cards as made
import pytest

from camsign.errors import InputRefused
from camsign.flows.intake import ingest
from camsign.flows.intake.find_cards import look_at
from camsign.logbook.folder import Folder


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    return made.logbook(tmp_path / "book", "CAM03", "CAM07")


def cards(root: Path, **about: dict[str, Any]) -> Path:
    """A folder with one card for each name, of two pictures each."""
    for n, (name, says) in enumerate(about.items()):
        made.card(root / name.replace("_", "-"), 2, first=20 * n, **says)
    return root


def refused(book: Folder, *paths: Path, camera: str = "CAM07") -> str:
    with pytest.raises(InputRefused) as caught:
        ingest(book, paths, camera=camera)
    assert not list(book.cards.iterdir())
    return str(caught.value)


def cameras(book: Folder, *paths: Path, camera: str | None = None) -> list[tuple[str, int]]:
    return [(card.camera, card.new) for card in ingest(book, paths, camera=camera).cards]


def test_a_folder_of_two_cameras_cards(book: Folder, tmp_path: Path) -> None:
    both = cards(tmp_path / "cards", oct_CAM03={}, oct_CAM07={})
    told = refused(book, both)
    assert "you said CAM07, but there are pictures from CAM03 and CAM07" in told
    assert "leave the camera out, and each goes to its own" in told
    assert cameras(book, both) == [("CAM03", 2), ("CAM07", 2)]


def test_naming_each_card_does_not_hide_that_they_differ(book: Folder, tmp_path: Path) -> None:
    both = cards(tmp_path / "cards", oct_CAM03={}, oct_CAM07={})
    assert "CAM03 and CAM07" in refused(book, *sorted(both.iterdir()))


def test_folders_without_dcim_in_one_folder(book: Folder, tmp_path: Path) -> None:
    both = made.fill(tmp_path / "cards", made.frames(2, 0, "oct-CAM03"))
    made.fill(both, made.frames(2, 20, "oct-CAM07"))
    assert "CAM03 and CAM07" in refused(book, both)
    (card,) = look_at(book, [both])
    assert (card.camera, card.several) == (None, ("CAM03", "CAM07"))
    assert cameras(book, both) == [("CAM03", 2), ("CAM07", 2)]


@pytest.mark.parametrize("what", ["serial", "model"])
def test_bodies_that_nobody_knows(book: Folder, tmp_path: Path, what: str) -> None:
    both = cards(tmp_path / "cards", a={what: "S1"}, b={what: "S2"})
    told = refused(book, *sorted(both.iterdir()))
    assert f"different cameras ({what} S1 in " in told and f" and S2 in {both / 'b'}" in told
    assert cameras(book, both / "a", camera="CAM07") == [("CAM07", 2)]


def test_cards_of_which_nothing_is_known_have_to_be_named_each(
    book: Folder, tmp_path: Path
) -> None:
    both = cards(tmp_path / "cards", a={}, b={})
    told = refused(book, both)
    assert f"nothing says that {both / 'a'} and {both / 'b'} are CAM07's" in told
    assert f"camsign ingest {both / 'a'} {both / 'b'} --camera CAM07" in told
    assert cameras(book, both / "a", both / "b", camera="CAM07") == [("CAM07", 2)] * 2


def test_one_silent_card_among_the_cameras_own(book: Folder, tmp_path: Path) -> None:
    both = cards(tmp_path / "cards", oct_CAM07={}, b={})
    assert f"nothing says that {both / 'b'} is CAM07's" in refused(book, both)


def test_two_cards_that_both_name_another_camera(book: Folder, tmp_path: Path) -> None:
    assert "are CAM07's" in refused(book, cards(tmp_path / "cards", oct_CAM03={}, nov_CAM03={}))


def test_several_cards_of_the_camera_that_was_said(book: Folder, tmp_path: Path) -> None:
    both = cards(tmp_path / "cards", oct_CAM07={}, nov_CAM07={})
    assert cameras(book, both, camera="CAM07") == [("CAM07", 2)] * 2


def test_one_card_is_taken_at_your_word(book: Folder, tmp_path: Path) -> None:
    one = cards(tmp_path / "cards", oct_CAM03={})
    assert cameras(book, one, camera="CAM07") == [("CAM07", 2)]


def test_what_is_loaded_already_does_not_count(book: Folder, tmp_path: Path) -> None:
    both = cards(tmp_path / "cards", oct_CAM03={}, b={})
    ingest(book, [both / "oct-CAM03"])
    assert ("CAM07", 2) in cameras(book, both, camera="CAM07")


def test_pictures_that_the_first_look_missed(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "card", 9)
    for n, camera in ((2, b"CAM03"), (4, b"CAM07")):
        block = made.exif(comment=camera)
        made.fill(card, {f"DCIM/100MEDIA/IMG_{n:04d}.JPG": made.jpeg(40 + n, block)})
    assert "CAM03 and CAM07" in refused(book, card)
