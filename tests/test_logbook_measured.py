"""What pixels measure, placed anew: those rows only, whole or not at all, seen when next opened."""

from __future__ import annotations

import hashlib
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from derive_world import Shot, book, put_card, rows

from camsign.logbook import receipts
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.measured import replace_rows
from camsign.logbook.placing import Disk
from camsign.logbook.records import Detected, Look

LIGHTS = "SELECT frame, light, maker FROM looks ORDER BY frame"


def shots(n: int) -> list[Shot]:
    return [Shot(f"2025-10-{1 + i:02d}T12:00:00") for i in range(n)]


@pytest.mark.thorough
def test_only_the_named_looks_change_and_the_next_opening_sees_them(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    frames = put_card(home, "k1", "CAM1", shots(5))
    before = {f: (light, maker) for f, light, maker in rows(home, LIGHTS)}
    card = home.cards / "card-k1"
    order = rows(home, "SELECT frame FROM read_parquet(?)", [str(card / LOOKS)])
    facts = hashlib.sha256((card / FRAMES).read_bytes()).hexdigest()
    replace_rows(card, [Look(frames[2], 7, "dark", 1, 2, 3, 4, "{}", b"glance")])
    after = {f: (light, maker) for f, light, maker in rows(home, LIGHTS)}
    assert after == before | {frames[2]: ("dark", 7)}
    assert hashlib.sha256((card / FRAMES).read_bytes()).hexdigest() == facts
    assert {p.name for p in card.iterdir()} == {FRAMES, LOOKS, "receipt.json"}
    glance = rows(home, "SELECT glance FROM read_parquet(?) WHERE maker = 7", [str(card / LOOKS)])
    assert glance == [(b"glance",)]
    assert rows(home, "SELECT frame FROM read_parquet(?)", [str(card / LOOKS)]) == order


@pytest.mark.thorough
def test_what_a_detector_found_stands_beside_the_looks_and_outlives_the_cache(
    tmp_path: Path,
) -> None:
    home = book(tmp_path / "book")
    frames = put_card(home, "k1", "CAM1", shots(3))
    ask = "SELECT frame, animal, vehicle, box_x FROM detected ORDER BY animal"
    assert rows(home, ask) == []
    card = home.cards / "card-k1"
    replace_rows(card, [Detected(frames[0], "m", animal=0.5), Detected(frames[1], "m")])
    replace_rows(card, [Detected(frames[1], "n", 0.75, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5)])
    found = [(frames[0], 0.5, 0.0, None), (frames[1], 0.75, 0.1, 0.2)]
    assert rows(home, ask) == found
    shutil.rmtree(home.cache)
    home.cache.mkdir()
    assert rows(home, ask) == found


class Full(Disk):
    """Fails when the new file is to take its name."""

    def rename(self, source: Path, target: Path) -> None:
        raise OSError(28, "No space left on device", str(target))


def test_a_full_disk_leaves_the_old_file_as_it_was(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    frames = put_card(home, "k1", "CAM1", shots(3))
    before = rows(home, LIGHTS)
    card = home.cards / "card-k1"
    with pytest.raises(OSError, match="No space"):
        replace_rows(card, [Look(frames[0], 7, "dark", 1, 2, 3, 4)], Full())
    assert rows(home, LIGHTS) == before
    assert {p.name for p in card.iterdir()} == {FRAMES, LOOKS, "receipt.json"}
    with pytest.raises(OSError, match="gone cannot be written to"):
        replace_rows(card.with_name("gone"), [Look(frames[0], 7, "dark", 1, 2, 3, 4)])


@pytest.mark.thorough
def test_a_picture_on_two_cards_is_measured_by_the_card_whose_id_sorts_first(
    tmp_path: Path,
) -> None:
    once = [Shot("2025-10-01T12:00:00", name="same")]
    home = book(tmp_path / "book")
    (frame,) = put_card(home, "k2", "CAM1", once)
    first = home.cards / "card-k2"
    replace_rows(first, [Look(frame, 9, "dark", 1, 2, 3, 4)])
    assert rows(home, LIGHTS) == [(frame, "dark", 9)]
    # Another logbook's card, merged in, that holds the same picture.
    other = book(tmp_path / "other")
    put_card(other, "k2", "CAM1", once)
    made = other.cards / "card-k2"
    receipt = receipts.read(made / "receipt.json")
    (made / "receipt.json").write_bytes(replace(receipt, card="k1").to_bytes())
    shutil.copytree(made, home.cards / "card-k1")
    again = rows(home, LIGHTS)
    assert again == [(frame, "colour", 1)]
    home.database.unlink()
    assert rows(home, LIGHTS) == again
