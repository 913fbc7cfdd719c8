"""Cards that are in a reader: found by their DCIM folder, with whose they seem to be."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import made_cards as made
import pytest

from camsign.flows.intake import ingest
from camsign.flows.intake.card_files import mounted
from camsign.flows.intake.find_cards import find_cards, look_at


def test_mounted_cards_are_found_with_their_likely_camera(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03", "CAM07")
    three = made.card(tmp_path / "CAM03", 4)
    other = made.card(tmp_path / "NO NAME", 3, first=30)
    both = made.card(tmp_path / "mixed", 1, first=50, comment=b"CAM03")
    made.fill(both, made.frames(1, 60, "DCIM/101MEDIA", comment=b"CAM07"))
    plain = made.fill(tmp_path / "stick", {"letter.txt": b"no card"})
    ingest(book, [three])
    before = made.disk(book)
    mounts = [three, other, both, plain, tmp_path / "gone"]
    found = {f.label: f for f in find_cards(book, mounts=mounts)}
    assert set(found) == {"CAM03", "NO NAME", "mixed"}
    assert (found["CAM03"].camera, found["CAM03"].files, found["CAM03"].known) == ("CAM03", 4, 2)
    assert found["NO NAME"].camera is None and "nothing on it" in found["NO NAME"].why
    assert found["mixed"].camera is None and "CAM03 and CAM07" in found["mixed"].why
    assert found["CAM03"].bytes == sum(p.stat().st_size for p in three.rglob("*.JPG"))
    assert made.disk(book) == before


@pytest.mark.thorough
def test_a_plain_folder_is_looked_at_as_a_card_is(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03", "CAM07")
    first = made.fill(tmp_path / "a", made.frames(3, 0, "loose", serial=b"S7"))
    other = made.fill(tmp_path / "b", made.frames(3, 1440, "loose", serial=b"S7"))
    assert [card.camera for card in look_at(book, [first, other])] == [None, None]
    ingest(book, [first], camera="CAM07")
    # What was taken in tells of the other: asked again, it is known.
    again, known = look_at(book, [first, other])
    assert again.known == again.looked_at == 2 and known.camera == "CAM07"
    day = (made.START + timedelta(days=1)).date().isoformat()
    assert (known.known, known.first, known.last) == (0, day, day)


def test_the_systems_own_mounts_can_be_listed() -> None:
    assert all(isinstance(p, Path) for p in mounted())
