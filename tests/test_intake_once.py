"""Nothing is done twice: a file is described once, the logbook opened before and after only."""

from __future__ import annotations

from collections import Counter
from datetime import date
from pathlib import Path

import made_cards as made
import pytest

from camsign.derive import opening
from camsign.derive.opening import open_logbook
from camsign.flows.intake import ingest, known, one_file
from camsign.flows.intake.card_files import CardFile
from camsign.flows.intake.read import describe
from camsign.logbook.records import FrameFacts


@pytest.mark.thorough
def test_a_file_is_described_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    counts: Counter[str] = Counter()

    def counted(
        data: bytes, file: CardFile, sha256: str, today: date, beside: str
    ) -> FrameFacts | str:
        counts[file.card_path] += 1
        return describe(data, file, sha256, today, beside)

    monkeypatch.setattr(one_file, "describe", counted)
    book = made.logbook(tmp_path / "book", "CAM03")
    assert ingest(book, [made.card(tmp_path / "CAM03", 7)]).new == 7
    assert set(counts.values()) == {1} and len(counts) == 7


@pytest.mark.thorough
def test_a_file_that_changed_since_it_was_described_is_described_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = made.card(tmp_path / "CAM03", 3)
    last = card / "DCIM/100MEDIA/IMG_0003.JPG"
    taken = one_file.take

    def late(job: one_file.Job, file: CardFile, name: str) -> one_file.Item | one_file.NotTaken:
        if name.endswith("IMG_0001.JPG"):
            last.write_bytes(made.jpeg(9, made.exif("2025:10:03 07:00:00")))
        return taken(job, file, name)

    monkeypatch.setattr("camsign.flows.intake.dump.take", late)
    monkeypatch.setattr("camsign.flows.intake.dump.WINDOW", 1)
    book = made.logbook(tmp_path / "book", "CAM03")
    result = ingest(book, [card])
    assert not result.safe_to_wipe  # it changed while the card was read
    assert result.cards[0].last_shown == "2025-10-03T07:00:00"


@pytest.mark.thorough
def test_the_logbook_is_opened_as_often_for_three_cards_as_for_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    opened, true = [0], opening.refresh

    def counted(*args: object) -> None:
        opened[0] += 1
        true(*args)  # type: ignore[arg-type]

    one, three = (made.logbook(tmp_path / name, "CAM03", "CAM07") for name in ("one", "three"))
    cards = [made.card(tmp_path / "a/CAM03", 2), made.card(tmp_path / "b/CAM07", 2, first=20)]
    cards.append(made.card(tmp_path / "c/CAM03", 2, first=40))
    monkeypatch.setattr(opening, "refresh", counted)
    ingest(one, cards[:1])
    once, opened[0] = opened[0], 0
    assert ingest(three, cards).new == 6
    assert 0 < opened[0] == once


@pytest.mark.thorough
def test_what_is_learned_of_a_new_card_is_what_the_opened_logbook_says(tmp_path: Path) -> None:
    book = made.logbook(tmp_path / "book", "CAM03")
    ingest(book, [made.card(tmp_path / "CAM03", 3, serial="S1")])
    sizes = range(100_000)
    with open_logbook(book) as opened:
        before = known.load(opened, sizes)
    other = made.card(tmp_path / "left", 4, first=30, serial="S2", model="Hollow 9")
    made.fill(other, made.frames(2, 0, "DCIM/101MEDIA", serial="S1"))  # two that are known
    done = ingest(book, [other], ask=lambda question: "CAM09")
    learned = known.learn(before, book, [c.folder for c in done.cards if c.new], sizes)
    with open_logbook(book) as opened:
        loaded = known.load(opened, sizes)
        rows = opened.con.execute("SELECT frame, bytes FROM frames").fetchall()
    assert learned.cameras == loaded.cameras == ("CAM03", "CAM09")
    for name in ("by_serial", "models", "cards", "hanging"):
        assert getattr(learned, name) == getattr(loaded, name), name
    assert sorted(map(repr, learned.answers)) == sorted(map(repr, loaded.answers))
    assert len(rows) == 7
    assert learned.frames == loaded.frames
    assert learned.sizes == loaded.sizes == {size for _, size in rows}
    assert set(learned.frames) == {frame for frame, _ in rows}
