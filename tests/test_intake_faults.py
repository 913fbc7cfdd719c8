"""Whatever fails, and whenever: one clear line, nothing lost, and the same command mends it."""

from __future__ import annotations

import itertools
import os
import random
import re
import shutil
import time
from collections.abc import Iterator
from pathlib import Path

import faults
import made_cards as made
import pytest

from camsign.errors import DAMAGED, REFUSED, CamsignError, Damaged, InputRefused
from camsign.flows.intake import incoming, ingest
from camsign.logbook import placing
from camsign.logbook.folder import Folder
from camsign.logbook.placing import Disk

CAMERAS = ("CAM03", "CAM07")


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    return made.logbook(tmp_path / "book", *CAMERAS)


def undisturbed(tmp_path: Path, card: Path):
    other = made.logbook(tmp_path / "undisturbed", *CAMERAS)
    ingest(other, [card])
    return made.dump(other)


@pytest.mark.thorough
def test_a_read_error_costs_that_file_only(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 5)
    result = ingest(book, [card], reader=faults.BadCard("IMG_0002.JPG"))
    assert result.new == 4 and not result.safe_to_wipe
    (left,) = result.refused
    assert left.file.endswith("IMG_0002.JPG") and "Input/output error" in left.why
    later = ingest(book, [card])  # in a better reader
    assert (later.new, later.known, later.safe_to_wipe) == (1, 4, True)


@pytest.mark.thorough
def test_a_long_clip_that_breaks_half_way_leaves_no_half(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camsign.flows.intake.read.PIECE", 1000)
    monkeypatch.setattr("camsign.flows.intake.one_file.LARGE", 2000)
    clip = b"RIFF\x00\x10\x00\x00AVI LIST" + random.Random(1).randbytes(9000)
    card = made.fill(made.card(tmp_path / "CAM03", 2), {"DCIM/100MEDIA/CLIP.AVI": clip})
    result = ingest(book, [card], reader=faults.BadCard("CLIP.AVI"))
    assert result.new == 2 and [x.file for x in result.refused] == ["DCIM/100MEDIA/CLIP.AVI"]
    assert not list(book.cards.rglob("*.AVI")) and not list(book.cards.rglob(".tmp-*"))
    assert ingest(book, [card]).safe_to_wipe
    assert next(book.cards.rglob("*.AVI")).read_bytes() == clip


@pytest.mark.thorough
def test_a_card_pulled_out_is_not_taken_for_a_smaller_card(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 30)
    expected = undisturbed(tmp_path, card)
    reader = faults.PulledCard(card, after=12)
    with pytest.raises(CamsignError, match="stopped answering") as caught:
        ingest(book, [card], reader=reader)
    assert caught.value.exit_code == REFUSED
    assert all(p.name.startswith(incoming.PREFIX) for p in book.cards.iterdir())
    reader.insert()
    assert ingest(book, [card]).safe_to_wipe
    assert made.dump(book) == expected


@pytest.mark.thorough
def test_a_flipped_bit_is_caught_before_the_file_counts(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 6)
    expected = undisturbed(tmp_path, card)
    with pytest.raises(Damaged, match="other bytes than were written") as caught:
        ingest(book, [card], disk=faults.ForgetfulDisk(4))
    assert caught.value.exit_code == DAMAGED and "do not wipe" in str(caught.value)
    ingest(book, [card])
    assert made.dump(book) == expected


def test_a_flipped_bit_in_a_long_clip_is_caught(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camsign.flows.intake.one_file.LARGE", 2000)
    clip = b"RIFF\x00\x10\x00\x00AVI LIST" + bytes(9000)
    card = made.fill(tmp_path / "CAM03", {"DCIM/100MEDIA/CLIP.AVI": clip})
    with pytest.raises(Damaged):
        ingest(book, [card], disk=FlippingDisk())
    assert not list(book.cards.rglob("*.AVI"))


class FlippingDisk(Disk):
    """A disk on which a long file has another bit when it is read back."""

    def read_back(self, path: Path) -> Iterator[bytes]:
        if path.stat().st_size > 2000:
            faults.flip_bit(path)
        yield from super().read_back(path)


@pytest.mark.thorough
@pytest.mark.parametrize("after", range(0, 10, 3))
def test_a_disk_that_fills_at_any_file(book: Folder, tmp_path: Path, after: int) -> None:
    card = made.card(tmp_path / "CAM03", 8)
    with pytest.raises(CamsignError, match="No space left") as caught:
        ingest(book, [card], disk=faults.FullDisk(after))
    assert caught.value.exit_code == REFUSED and "do not wipe" in str(caught.value)
    result = ingest(book, [card])
    assert result.safe_to_wipe and result.new == 8
    assert [p.name for p in book.cards.iterdir()] == [result.cards[0].folder]


def test_a_real_disk_that_is_too_small_is_refused_before_the_first_copy(tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 4)
    made.fill(card, {"DCIM/100MEDIA/BIG.JPG": made.jpeg(77) + bytes(3_000_000)})
    with faults.small_disk(tmp_path / "small", 2) as disk:
        book = made.logbook(disk / "book", "CAM03")
        with pytest.raises(InputRefused, match=r"needs 3\.0 MB, and only") as caught:
            ingest(book, [card])
        assert caught.value.exit_code == REFUSED
        assert list(book.cards.iterdir()) == []


@pytest.mark.thorough
def test_a_real_disk_that_fills_meanwhile_and_is_cleared(tmp_path: Path) -> None:
    files = {f"DCIM/100MEDIA/I{i:03d}.JPG": made.jpeg(i) + bytes(100_000) for i in range(30)}
    card = made.fill(tmp_path / "CAM03", files)
    expected = undisturbed(tmp_path, card)
    with faults.small_disk(tmp_path / "small", 6) as disk:
        book = made.logbook(disk / "book", *CAMERAS)
        ballast = disk / "ballast"

        def fill(done: int, total: int) -> None:
            if done == 5:
                ballast.write_bytes(bytes(3_600_000))

        with pytest.raises(CamsignError, match="No space left") as caught:
            ingest(book, [card], progress=fill)
        assert "of 30 files safe so far" in str(caught.value)
        ballast.unlink()
        assert ingest(book, [card]).safe_to_wipe
        assert made.dump(book) == expected


def test_a_read_only_logbook_says_so_in_one_line(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    with faults.read_only(book.root):
        with pytest.raises(CamsignError, match="cannot be written to") as caught:
            ingest(book, [card])
        assert caught.value.exit_code == REFUSED and "\n" not in str(caught.value)
    assert ingest(book, [card]).new == 2


@pytest.mark.thorough
def test_an_unreadable_folder_costs_that_folder_only(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    made.fill(card, made.frames(2, 40, "DCIM/101MEDIA"))
    scandir = os.scandir

    def refusing(path):
        if str(path).endswith("101MEDIA"):  # root may read everything, so the call refuses
            raise PermissionError(13, os.strerror(13))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refusing)
    result = ingest(book, [card])
    assert result.new == 2 and not result.safe_to_wipe
    assert [(x.file, x.why) for x in result.refused] == [
        ("DCIM/101MEDIA/", "the folder cannot be read (Permission denied)")
    ]


@pytest.mark.thorough
def test_a_damaged_copy_is_put_right_from_the_card(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 4)
    ingest(book, [card])
    before = made.disk(book)
    placed = sorted(book.cards.rglob("*.JPG"))
    faults.flip_bit(placed[1])
    placed[2].unlink()
    result = ingest(book, [card])
    assert result.safe_to_wipe and result.new == 0
    assert any(w.startswith("2 damaged or missing") for w in result.warnings)
    assert made.disk(book) == before


def test_a_damaged_copy_of_a_long_clip_is_put_right_from_the_card(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camsign.flows.intake.one_file.LARGE", 50_000)
    monkeypatch.setattr("camsign.flows.intake.read.PIECE", 20_000)
    data = b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom" + bytes(120_000)
    card = made.fill(tmp_path / "CAM03", {"DCIM/C.MP4": data})
    ingest(book, [card])
    (copy,) = book.cards.rglob("C.MP4")
    faults.flip_bit(copy)
    result = ingest(book, [card])
    assert result.safe_to_wipe and result.new == 0 and "replaced from" in result.warnings[0]
    assert (copy.read_bytes() == data and not os.access(copy, os.W_OK)) or os.geteuid() == 0
    copy.unlink()
    assert ingest(book, [card]).safe_to_wipe and copy.read_bytes() == data


@pytest.mark.thorough
def test_a_damaged_copy_makes_a_dry_run_unsafe(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 4)
    ingest(book, [card])
    faults.flip_bit(sorted(book.cards.rglob("*.JPG"))[1])
    reasons = ingest(book, [card], dry_run=True).reasons
    assert any("the logbook's copy is damaged" in why for why in reasons)


# Crash points: every file call of the commit, by an exception that nothing catches.


class Crash(BaseException):
    """The process ends here."""


class CrashingDisk(faults.Disk):
    """Ends the process at its n-th call."""

    def __init__(self, at: int) -> None:
        self.count = itertools.count(1)
        self.at = at

    def _step(self) -> None:
        if next(self.count) >= self.at:
            raise Crash

    def write(self, path: Path, data: bytes) -> None:
        self._step()
        super().write(path, data)

    def rename(self, source: Path, target: Path) -> None:
        self._step()
        super().rename(source, target)

    def fsync_folder(self, folder: Path) -> None:
        self._step()
        super().fsync_folder(folder)


@pytest.mark.thorough
def test_every_sixth_step_may_be_the_last(tmp_path: Path) -> None:
    assert crashes(tmp_path, 6) > 12


@pytest.mark.long
def test_every_step_may_be_the_last(tmp_path: Path) -> None:
    assert crashes(tmp_path, 1) > 12


def crashes(tmp_path: Path, stride: int) -> int:
    card = made.fill(tmp_path / "CAM03", {"IMG_0001.JPG": made.jpeg()})
    expected = undisturbed(tmp_path, card)
    for at in itertools.count(1, stride):
        book = made.logbook(tmp_path / f"book{at}", *CAMERAS)
        try:
            ingest(book, [card], disk=CrashingDisk(at))
        except Crash:
            ingest(book, [card])
            assert made.dump(book) == expected, f"after a crash at step {at}"
            shutil.rmtree(book.root)
            continue
        return at
    raise AssertionError


# SIGKILL for real.


def kills(tmp_path: Path, times: int, seed: int, n: int) -> int:
    card = made.card(tmp_path / "CAM03", n)
    began = time.monotonic()
    expected = undisturbed(tmp_path, card)
    span = time.monotonic() - began
    chance, hits = random.Random(seed), 0
    for i in range(times):
        book = made.logbook(tmp_path / f"killed{i}", *CAMERAS)
        hit = faults.killed_ingest(book.root, card, chance.random() * span)
        hits, span = hits + hit, span * (1.1 if hit else 0.9)  # machines have busy moments
        ingest(book, [card])
        assert made.dump(book) == expected, f"kill {i}"
        shutil.rmtree(book.root)
    return hits


def test_three_kills_at_random_instants(tmp_path: Path) -> None:
    assert kills(tmp_path, 3, seed=1, n=16) >= 1


@pytest.mark.long
def test_a_hundred_kills_at_random_instants(tmp_path: Path) -> None:
    assert kills(tmp_path, 100, seed=2, n=120) >= 40


@pytest.mark.thorough
def test_killed_twice_is_mended_all_the_same(tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 40)
    expected = undisturbed(tmp_path, card)
    book = made.logbook(tmp_path / "book", *CAMERAS)
    for after in (0.25, 0.35):
        faults.killed_ingest(book.root, card, after)
    ingest(book, [card])
    assert made.dump(book) == expected


@pytest.mark.thorough
def test_what_was_placed_is_not_copied_again(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 12)
    with pytest.raises(CamsignError):
        ingest(book, [card], disk=faults.FullDisk(9))
    placed = {p.stat().st_ino for p in book.cards.rglob("*.JPG")}
    assert len(placed) >= 6
    ingest(book, [card])
    assert placed <= {p.stat().st_ino for p in book.cards.rglob("*.JPG")}


@pytest.mark.thorough
def test_another_cards_leftovers_wait_for_it(book: Folder, tmp_path: Path) -> None:
    one = made.card(tmp_path / "a" / "CAM03", 8)
    two = made.card(tmp_path / "b" / "CAM07", 3, first=50)
    with pytest.raises(CamsignError):
        ingest(book, [one], disk=faults.FullDisk(5))
    result = ingest(book, [two])
    (warning,) = result.warnings
    said = r"[456] files of another card, whose load was stopped on \d{4}-\d\d-\d\d, not taken in"
    assert result.new == 3 and re.match(f"{said} yet: insert that card", warning)
    result = ingest(book, [one])
    assert result.new == 8 and result.warnings == ()
    assert not list(book.cards.glob(f"{incoming.PREFIX}*"))


@pytest.mark.thorough
def test_another_machines_unfinished_card_is_left_alone(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    card = made.card(tmp_path / "CAM03", 8)
    with pytest.raises(CamsignError):
        ingest(book, [card], disk=faults.FullDisk(5))
    theirs = set(book.cards.rglob("*.JPG"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(tmp_path / "other-machine"))
    assert ingest(Folder(book.root), [card]).new == 8
    assert all(p.exists() for p in theirs)


@pytest.mark.thorough
def test_two_ingests_of_one_card_at_once_make_one_card(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 4)
    expected = undisturbed(tmp_path, card)

    def meanwhile(done: int, total: int) -> None:
        if done == 2:
            ingest(book, [card])

    assert ingest(book, [card], progress=meanwhile).safe_to_wipe
    assert made.dump(book) == expected


@pytest.mark.thorough
def test_a_card_whose_table_is_damaged_comes_in_anew(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 3)
    first = ingest(book, [card]).cards[0]
    table = book.cards / first.folder / "frames.parquet"
    table.chmod(0o600)
    table.write_bytes(b"PAR1 no more")
    book.database.unlink()  # another machine, or a cache that was cleared
    second = ingest(book, [card]).cards[0]
    assert (second.card, second.new, second.folder) == (first.card, 3, f"{first.folder}-2")


@pytest.mark.thorough
def test_an_ingest_at_work_is_not_robbed(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 3)
    room = incoming.start(book, faults.Disk())
    placed = room.target("DCIM/100MEDIA/IMG_0001.JPG")
    placing.place(placed, made.frames(1)["DCIM/100MEDIA/IMG_0001.JPG"])
    assert ingest(book, [card]).new == 3
    assert placed.exists()
    room.close()


def _sha_bytes(data: bytes) -> str:
    import hashlib

    return hashlib.sha256(data).hexdigest()
