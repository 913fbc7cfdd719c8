"""SAFE TO WIPE is said only when every picture has a copy, or was named and accepted."""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import made_cards as made
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camsign.flows.intake import IngestResult, cards_in, ingest, volumes
from camsign.flows.intake.companions import DRIVE_PICTURE
from camsign.flows.intake.read import Reader
from camsign.flows.intake.result import verdict
from camsign.logbook.folder import Folder

NAME = "DCIM/100MEDIA/IMG_0001.JPG"


class ShortCard(Reader):
    """A card on which the files with this ending end early, without an error."""

    def __init__(self, ending: str, after: int) -> None:
        self.ending, self.after = ending, after

    def read(self, path: str) -> bytes:
        data = super().read(path)
        return data[: self.after] if path.endswith(self.ending) else data

    def pieces(self, path: str) -> Iterator[bytes]:
        left = self.after if path.endswith(self.ending) else 1 << 62
        for piece in super().pieces(path):
            yield piece[:left]
            left -= len(piece)
            if left <= 0:
                return


class LivelyCard(Reader):
    """A card on which something happens while its first picture is read for its copy."""

    def __init__(self, happens: Callable[[], object], after: int = 0) -> None:
        self.happens, self.left, self.guard = happens, after, threading.Lock()

    def read(self, path: str) -> bytes:
        data = super().read(path)
        with self.guard:
            self.left -= 1
            if self.left == -1:
                self.happens()
        return data


@pytest.fixture
def book(tmp_path: Path) -> Folder:
    return made.logbook(tmp_path / "book", "CAM03")


@pytest.fixture(autouse=True)
def nothing_is_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    """Comparing pictures says nothing of their copies, and has tests of its own: it costs time."""
    monkeypatch.setattr(cards_in, "compare", lambda folder, cameras: 0)
    monkeypatch.setattr(cards_in, "_look_back", lambda folder, reports: ((), ()))


def without_copy(book: Folder, *roots: Path) -> list[str]:
    """The pictures and clips under these folders whose bytes stand nowhere in the logbook."""
    kept = {sum_of(p) for p in book.cards.rglob("files/**/*") if p.is_file()}
    files = [p for root in roots for p in root.rglob("*") if p.is_file()]
    media = [p for p in files if p.suffix in (".JPG", ".jpg", ".MP4") or p.name.isdigit()]
    return [p.name for p in media if sum_of(p) not in kept]


def sum_of(path: Path) -> bytes:
    return hashlib.sha256(path.read_bytes()).digest()


def as_mount(monkeypatch: pytest.MonkeyPatch, card: Path, kind: str = "") -> None:
    true = os.path.ismount
    monkeypatch.setattr(os.path, "ismount", lambda p: Path(p) == card or true(p))
    if kind:
        monkeypatch.setattr(
            volumes, "_file_system", lambda mount: kind if mount == card else "ext4"
        )


def clip(size: int) -> bytes:
    return b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom" + bytes(size)


# ------------------------------------------------------------ reads that end early


def test_a_picture_of_which_only_the_beginning_comes_is_not_taken(
    book: Folder, tmp_path: Path
) -> None:
    card = made.fill(
        tmp_path / "CAM03", made.frames(1) | {"DCIM/BIG.JPG": made.jpeg(1, size=(960, 640))}
    )
    result = ingest(book, [card], reader=ShortCard("BIG.JPG", 8_000))
    assert not result.safe_to_wipe and result.new == 1
    assert "8,000 of its" in result.refused[0].why and "BIG.JPG" in result.reasons[0]
    assert not list(book.cards.rglob("BIG.JPG"))
    later = ingest(book, [card])  # in a better reader
    assert later.safe_to_wipe and later.new == 1 and without_copy(book, card) == []


@pytest.mark.parametrize("dry_run", [True, False])
def test_a_long_clip_that_ends_early_is_not_taken(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, dry_run: bool
) -> None:
    monkeypatch.setattr("camsign.flows.intake.one_file.LARGE", 50_000)
    monkeypatch.setattr("camsign.flows.intake.read.PIECE", 20_000)
    card = made.fill(tmp_path / "CAM03", made.frames(2) | {"DCIM/C.MP4": clip(200_000)})
    result = ingest(book, [card], reader=ShortCard("C.MP4", 60_000), dry_run=dry_run)
    assert not result.safe_to_wipe and "60,000 of its 200,024 bytes" in result.refused[0].why
    assert not list(book.cards.rglob("*.MP4")) and not list(book.cards.rglob(".tmp*"))


# ------------------------------------------------------------ what comes and grows meanwhile


@pytest.mark.parametrize("after", [9])
def test_pictures_that_come_while_the_card_is_read(
    book: Folder, tmp_path: Path, after: int
) -> None:
    card = made.card(tmp_path / "CAM03", 8)
    more = {"DCIM/100MEDIA/IMG_0099.JPG": made.jpeg(99), "DCIM/101MEDIA/A.JPG": made.jpeg(98)}
    result = ingest(book, [card], reader=LivelyCard(lambda: made.fill(card, more), after))
    assert not result.safe_to_wipe and result.new == 8
    assert {x.file for x in result.refused} == set(more)
    assert "run the same command again" in result.reasons[-1]
    assert ingest(book, [card]).safe_to_wipe and without_copy(book, card) == []


def test_a_clip_that_grows_while_the_card_is_read(book: Folder, tmp_path: Path) -> None:
    card = made.fill(tmp_path / "CAM03", made.frames(4) | {"DCIM/A.MP4": clip(50_000)})
    grown = clip(90_000)
    lively = LivelyCard(lambda: (card / "DCIM/A.MP4").write_bytes(grown), 5)
    result = ingest(book, [card], accept_refused=True, reader=lively)
    assert not result.safe_to_wipe and "changed while" in result.refused[-1].why
    assert ingest(book, [card]).safe_to_wipe and without_copy(book, card) == []


def test_the_size_in_the_table_is_of_the_bytes_that_were_kept(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 1)
    ingest(book, [card])
    assert made.dump(book)["frames"][0][5] == (card / NAME).stat().st_size


# ------------------------------------------------------------ folders nobody looked into


SYSTEM_FOLDERS = (
    "LOST.DIR",
    ".Trashes/501",
    ".Trash-1000/files",
    "FOUND.000",
    "System Volume Information",
    "@eaDir",
    ".android_secure",
    "$RECYCLE.BIN/S-1-5-21",
)


def test_a_picture_in_a_systems_folder_is_taken(book: Folder, tmp_path: Path) -> None:
    lost = {f"{folder}/1234": made.jpeg(80 + i) for i, folder in enumerate(SYSTEM_FOLDERS)}
    card = made.fill(tmp_path / "CAM03", made.frames(2) | lost)
    result = ingest(book, [card])
    assert result.new == 2 + len(SYSTEM_FOLDERS) and result.safe_to_wipe
    assert without_copy(book, card) == []


def test_what_a_system_recovered_and_nobody_can_read_is_no_companion(
    book: Folder, tmp_path: Path
) -> None:
    card = made.fill(tmp_path / "CAM03", made.frames(2) | {"LOST.DIR/4711": b"\x93" * 900})
    result = ingest(book, [card])
    assert not result.safe_to_wipe and result.refused[0].file == "LOST.DIR/4711"


def test_what_lies_in_the_trash_and_is_no_picture_is_named(book: Folder, tmp_path: Path) -> None:
    card = made.fill(tmp_path / "CAM03", made.frames(2) | {".Trashes/501/plan.doc": b"old plan"})
    result = ingest(book, [card])
    assert [(x.file, x.why) for x in result.companions] == [
        (".Trashes/501/plan.doc", "in the macOS trash")
    ]
    assert ".Trashes/501/plan.doc" in verdict(result)[0]


def test_thumbnails_of_a_network_drive_are_companions_of_their_pictures(
    book: Folder, tmp_path: Path
) -> None:
    small = {
        "DCIM/100MEDIA/@eaDir/IMG_0001.JPG/THUMB_M.jpg": made.jpeg(70),
        "DCIM/100MEDIA/@eaDir/GONE.JPG/THUMB_M.jpg": made.jpeg(71),  # all that is left of it
    }
    result = ingest(book, [made.fill(tmp_path / "CAM03", made.frames(2) | small)])
    assert result.new == 3 and [x.why for x in result.companions] == [DRIVE_PICTURE]


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read everything")
def test_a_trash_folder_that_cannot_be_read_is_no_companion(book: Folder, tmp_path: Path) -> None:
    card = made.fill(tmp_path / "CAM03", made.frames(2) | {".Trashes/A.JPG": made.jpeg(9)})
    (card / ".Trashes").chmod(0)
    try:
        assert not ingest(book, [card]).safe_to_wipe
    finally:
        (card / ".Trashes").chmod(0o700)


# ------------------------------------------------------------ a part of the card was named


def whole_card(root: Path) -> Path:
    return made.fill(
        root,
        made.frames(2)
        | made.frames(2, first=2, folder="DCIM/101MEDIA")
        | {"ROOT.JPG": made.jpeg(60), "PRIVATE/M4/C.MP4": clip(900)},
    )


@pytest.mark.parametrize("named", ["DCIM", pytest.param("DCIM/100MEDIA", marks=pytest.mark.long)])
def test_a_folder_of_a_mounted_card_stands_for_the_card(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, named: str
) -> None:
    card = whole_card(tmp_path / "CAM03")
    as_mount(monkeypatch, card)
    result = ingest(book, [card / named])
    assert result.safe_to_wipe and result.new == 6 and without_copy(book, card) == []


@pytest.mark.parametrize("named", [pytest.param("DCIM", marks=pytest.mark.long), "DCIM/100MEDIA"])
def test_a_folder_of_a_copied_card_says_what_was_not_read(
    book: Folder, tmp_path: Path, named: str
) -> None:
    card = whole_card(tmp_path / "CAM03")
    result = ingest(book, [card / named], camera="CAM03")
    assert not result.safe_to_wipe and f"only {named} of it was read" in result.reasons[0]
    assert f"name {card} to take in the whole card" in result.reasons[0]
    assert ingest(book, [card]).safe_to_wipe


def test_all_parts_named_one_by_one_are_the_whole(book: Folder, tmp_path: Path) -> None:
    card = made.fill(tmp_path / "CAM03", made.frames(2) | made.frames(1, 9, "DCIM/101MEDIA"))
    parts = [card / "DCIM/100MEDIA", card / "DCIM/101MEDIA"]
    assert not ingest(book, parts[:1], camera="CAM03").safe_to_wipe
    assert ingest(book, parts, camera="CAM03").safe_to_wipe


@pytest.mark.parametrize("kind, safe", [("exfat", False), ("ext4", True)])
def test_a_folder_of_a_card_without_dcim(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, safe: bool
) -> None:
    card = made.fill(tmp_path / "CAM03", made.frames(1, 0, "100") | made.frames(1, 5, "101"))
    as_mount(monkeypatch, card, kind)
    assert ingest(book, [card / "100"], camera="CAM03").safe_to_wipe is safe
    assert ingest(book, [card]).safe_to_wipe


def test_a_copy_of_a_card_on_a_stick_is_whole(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made.fill(tmp_path / "STICK", {"letters/a.txt": b"no concern of ours"})
    card = made.card(tmp_path / "STICK/dumps/CAM03", 2)
    as_mount(monkeypatch, tmp_path / "STICK", "exfat")
    assert ingest(book, [card]).safe_to_wipe


def test_a_logbook_on_the_card_itself_is_lost_with_it(tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    book = made.logbook(card / "book", "CAM03")
    result = ingest(book, [card])
    assert result.new == 2 and not result.safe_to_wipe
    assert "the logbook itself lies on it" in result.reasons[0]


# ------------------------------------------------------------ what was accepted


def test_what_will_be_lost_is_named_by_kind(book: Folder, tmp_path: Path) -> None:
    bad = {"DCIM/IMG_0077.JPG": made.jpeg(3)[:60], "setup.txt": b"words", "DCIM/B.JPG": b""}
    card = made.fill(tmp_path / "CAM03", made.frames(2) | bad)
    result = ingest(book, [card], accept_refused=True)
    assert result.safe_to_wipe and {x.file for x in result.lost} == set(bad)
    text = "\n".join(verdict(result))
    assert text.startswith("SAFE TO WIPE, but 3 files are lost then, as you accepted")
    assert "every" not in text
    assert "cut short before its picture begins: DCIM/IMG_0077.JPG" in text
    assert "neither a picture nor a clip: setup.txt" in text


def test_pictures_of_an_unknown_camera_are_not_accepted_as_lost(
    book: Folder, tmp_path: Path
) -> None:
    card = made.fill(tmp_path / "dump", made.frames(2, 0, "CAM03", model="A"))
    made.fill(card, made.frames(2, 5, "other", model="B", serial="X1"))
    result = ingest(book, [card], accept_refused=True)
    assert result.new == 2 and not result.safe_to_wipe and result.lost == ()


# ------------------------------------------------------------ all of it at once

WAYS = {
    "short": lambda c: ShortCard("IMG_0002.JPG", 500),
    "grows": lambda c: LivelyCard(lambda: (c / NAME).open("ab").write(b"more") and None, 3),
    "comes": lambda c: LivelyCard(lambda: made.fill(c, {"DCIM/NEW.JPG": made.jpeg(97)}), 2),
    "broken": lambda c: made.fill(c, {"DCIM/X.JPG": b"\xff\xd8\xff"}) and None,
    "notes": lambda c: made.fill(c, {"note.txt": b"n"}) and None,
    "lost": lambda c: made.fill(c, {"LOST.DIR/77": made.jpeg(96)}) and None,
    "trash": lambda c: made.fill(c, {".Trash-1000/a.JPG": made.jpeg(95)}) and None,
    "link": lambda c: (c / "link.JPG").symlink_to(c / NAME),
    "part": lambda c: made.fill(c, {"BESIDE.JPG": made.jpeg(94)}) and None,
    "whole": lambda c: None,
}


def is_true(
    tmp_path_factory: pytest.TempPathFactory, ways: set[str], part: str, accept: bool
) -> None:
    tmp_path = tmp_path_factory.mktemp("card")
    book = made.logbook(tmp_path / "book", "CAM03")
    card = made.card(tmp_path / "CAM03", 4)
    readers = [r for w in sorted(ways) if isinstance(r := WAYS[w](card), Reader)]
    options = {"reader": readers[0]} if readers else {}
    done: IngestResult = ingest(
        book, [card / part], camera="CAM03", accept_refused=accept, **options
    )
    links = [] if part else [p.name for p in card.rglob("link.JPG")]
    missing = [n for n in without_copy(book, card) if n not in links]
    named = {Path(x.file).name for x in done.lost}
    if done.safe_to_wipe:
        assert set(missing) <= named and (accept or not done.lost)
    if ways == {"whole"}:
        assert done.safe_to_wipe
    assert verdict(done)[0].startswith("SAFE") is done.safe_to_wipe


# The ways that no test above takes, and the two that go wrong most easily with only a part named.
ALONE = [("link", ""), ("comes", "DCIM/100MEDIA"), ("part", "DCIM")]


@pytest.mark.parametrize(
    "way, part",
    [*ALONE, *(pytest.param(w, "", marks=pytest.mark.long) for w in sorted(WAYS) if w != "link")],
)
def test_safe_is_never_said_of_a_card_that_was_partly_read(
    tmp_path_factory: pytest.TempPathFactory, way: str, part: str
) -> None:
    is_true(tmp_path_factory, {way}, part, accept=way in ("broken", "notes"))


@pytest.mark.long
@settings(max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    ways=st.sets(st.sampled_from(sorted(WAYS)), min_size=1, max_size=3),
    part=st.sampled_from(["", "DCIM", "DCIM/100MEDIA"]),
    accept=st.booleans(),
)
def test_nor_where_several_things_happen_at_once(
    tmp_path_factory: pytest.TempPathFactory, ways: set[str], part: str, accept: bool
) -> None:
    is_true(tmp_path_factory, ways, part, accept)
