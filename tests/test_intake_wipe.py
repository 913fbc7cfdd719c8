"""SAFE TO WIPE is said only when every picture has a copy, or was named and accepted."""

from __future__ import annotations

import errno
import hashlib
import os
import shutil
import socket
import stat
import threading
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import made_cards as made
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camsign.errors import CamsignError
from camsign.flows.intake import IngestResult, card_files, cards_in, ingest, one_file
from camsign.flows.intake.companions import DRIVE_PICTURE
from camsign.flows.intake.read import Reader
from camsign.flows.intake.result import verdict
from camsign.logbook import receipts
from camsign.logbook.folder import Folder
from camsign.logbook.placing import Disk

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
            card_files, "_file_system", lambda mount: kind if mount == card else "ext4"
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


def test_a_known_picture_that_comes_on_the_next_card_is_not_kept_twice(
    book: Folder, tmp_path: Path
) -> None:
    known = made.fill(tmp_path / "old/CAM03", {NAME: made.jpeg(1, size=(640, 480))})
    assert ingest(book, [known]).new == 1
    one, two = (made.card(tmp_path / f"in/{n}/CAM03", 2, first=20 * n) for n in (1, 2))
    again = {"DCIM/100MEDIA/IMG_0099.JPG": (known / NAME).read_bytes()}
    result = ingest(book, [one, two], reader=LivelyCard(lambda: made.fill(two, again), 3))
    assert result.new == 4 and [x.file for x in result.refused] == list(again)
    assert not result.safe_to_wipe
    done = ingest(book, [one, two])
    assert (done.new, done.known, done.safe_to_wipe) == (0, 5, True)


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
    assert "the logbook itself is on it" in result.reasons[0]


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


# ------------------------------------------------------------ every way to read a card in part


class BadCard(Reader):
    """A card on which something happens when the file with this path is read."""

    def __init__(self) -> None:
        self.faults: dict[str, Callable[[bytes], bytes]] = {}

    def read(self, path: str) -> bytes:
        return self.faults.get(path, bytes)(super().read(path))

    def pieces(self, path: str) -> Iterator[bytes]:
        data = self.read(path)
        yield from (data[i : i + 20_000] for i in range(0, len(data), 20_000))


class Scene:
    """A card with four pictures, of which the second is not read before its copy is made."""

    def __init__(self, root: Path, number: int, patch: pytest.MonkeyPatch, bad: BadCard) -> None:
        self.root, self.first, self.patch, self.bad = root, 100 * number, patch, bad
        self.named, self.more = [root], count(50)
        made.card(root, 4, self.first)

    def picture(self, **about: str) -> bytes:
        return made.jpeg(self.first + next(self.more), made.exif(**about))

    def put(self, *names: str, data: bytes | None = None) -> None:
        for name in names:
            made.fill(self.root, {name: self.picture() if data is None else data})

    def when_read(self, what: Callable[[bytes], bytes | None], name: str = "IMG_0002.JPG") -> None:
        path = self.root / "DCIM/100MEDIA" / name
        self.bad.faults[str(path)] = lambda data: data if (x := what(data)) is None else x

    def mount(self, path: str = "") -> None:
        as_mount(self.patch, self.root / path)


def broken(_: bytes) -> bytes:
    raise OSError(errno.EIO, "Input/output error")


def unlisted(scene: Scene, folder: str = "DCIM/101MEDIA") -> None:
    scene.put(f"{folder}/A.JPG")
    true, shut = os.scandir, str(scene.root / folder)

    def scandir(path: str) -> Iterator[os.DirEntry[str]]:
        if str(path) == shut:
            raise PermissionError(errno.EACCES, "Permission denied")
        return true(path)

    scene.patch.setattr(os, "scandir", scandir)


def socket_on(scene: Scene) -> None:
    with pytest.MonkeyPatch.context() as patch, socket.socket(socket.AF_UNIX) as s:
        patch.chdir(scene.root)
        s.bind("S.JPG")


def device_on(scene: Scene) -> None:
    try:
        os.mknod(scene.root / "D.JPG", 0o600 | stat.S_IFCHR, os.makedev(1, 3))
    except PermissionError:  # only root may; a pipe is as little a file
        os.mkfifo(scene.root / "D.JPG")


def live(scene: Scene, clip_ends: bool = False) -> None:
    scene.put("DCIM/100MEDIA/IMG_0009.JPG")
    seconds = clip(900) + b"com.apple.quicktime.content.identifier" + bytes([scene.first % 251])
    scene.put("DCIM/100MEDIA/IMG_0009.MOV", data=seconds)
    if clip_ends:
        scene.when_read(lambda data: data[:400], "IMG_0009.MOV")


def small(scene: Scene, ends: bool = False) -> None:
    scene.put("DCIM/100MEDIA/MVI_0009.MP4", data=clip(800 + scene.first))
    scene.put("DCIM/100MEDIA/MVI_0009.THM")
    if ends:
        scene.when_read(broken, "MVI_0009.THM")


def two_on_one(scene: Scene, stranger: bool = False) -> None:
    """A card on which a copy of another lies; a stranger's shows two bodies, and says no more."""
    scene.mount()
    scene.put("old/DCIM/100MEDIA/A.JPG")
    if stranger:
        for serial in ("X1", "X2"):
            picture = scene.picture(serial=serial + str(scene.first))
            scene.put(f"old/DCIM/100MEDIA/{serial}.JPG", data=picture)


def inner(scene: Scene, path: str) -> None:
    two_on_one(scene)
    scene.named = [scene.root / path]


def part(scene: Scene, path: str) -> None:
    scene.put("BESIDE.JPG", "DCIM/101MEDIA/A.JPG")
    scene.named = [scene.root / path]


def inside_mounted(scene: Scene, named: str = "") -> None:
    scene.put("DCIM/101MEDIA/A.JPG", "BESIDE.JPG")
    scene.mount("DCIM" if named else "DCIM/101MEDIA")
    scene.named = [scene.root / named]


def unknown(scene: Scene) -> None:
    scene.root = scene.root.rename(scene.root.with_name("dump"))
    scene.named = [scene.root]


def long_ends(scene: Scene) -> None:
    scene.put("DCIM/100MEDIA/C.MP4", data=clip(120_000 + scene.first))
    scene.when_read(lambda data: data[:60_000], "C.MP4")


def exchanged(scene: Scene) -> None:
    """A picture becomes another of the same length once it was read."""
    path = scene.root / "DCIM/100MEDIA/IMG_0002.JPG"
    scene.when_read(lambda data: path.write_bytes(data[:-2] + b"?!") and None)


def gone(scene: Scene) -> None:
    """A picture goes before it is read."""
    path = scene.root / "DCIM/100MEDIA/IMG_0002.JPG"

    def taken_away(data: bytes) -> bytes:
        path.unlink()
        raise FileNotFoundError(errno.ENOENT, "No such file or directory")

    scene.when_read(taken_away)


def long_picture(scene: Scene) -> None:
    scene.put("DCIM/LONG.JPG", data=scene.picture() + bytes(120_000))


def puts(*names: str, data: bytes | None = None) -> Callable[[Scene], None]:
    return lambda scene: scene.put(*names, data=data)


def happens(what: Callable[[Scene], object]) -> Callable[[Scene], None]:
    return lambda scene: scene.when_read(lambda data: what(scene) and None)


HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(500)
SAFE, ACCEPTED, NOT = "safe", "safe if accepted", "not safe"
WAYS: dict[str, tuple[Callable[[Scene], object], str]] = {
    "whole": (lambda s: None, SAFE),
    "a picture of which the beginning comes": (lambda s: s.when_read(lambda d: d[:500]), ACCEPTED),
    "a long clip that ends early": (long_ends, ACCEPTED),
    "a picture that cannot be read": (lambda s: s.when_read(broken), ACCEPTED),
    "a folder that cannot be listed": (unlisted, ACCEPTED),
    "a picture grows": (happens(lambda s: (s.root / NAME).open("ab").write(b"more")), NOT),
    "a picture comes": (happens(lambda s: s.put("DCIM/NEW.JPG")), NOT),
    "a picture is exchanged": (exchanged, NOT),
    "a picture goes": (gone, ACCEPTED),
    "a long picture": (long_picture, SAFE),
    "a long file that is no clip": (puts("DCIM/D.BIN", data=bytes(200_000)), ACCEPTED),
    "a HEIC": (puts("DCIM/H.HEIC", data=HEIC), SAFE),
    "the card is pulled out": (happens(lambda s: shutil.rmtree(s.root)), NOT),
    "no picture but its name": (puts("DCIM/X.JPG", data=b"\xff\xd8\xff"), ACCEPTED),
    "an empty file": (puts("DCIM/X.JPG", data=b""), ACCEPTED),
    "a note": (puts("note.txt", data=b"n"), ACCEPTED),
    "an archive": (puts("old.zip", data=b"PK\3\4" + bytes(90)), ACCEPTED),
    "what a system recovered": (puts("LOST.DIR/77", "FOUND.000/FILE0000.CHK"), SAFE),
    "rubbish that it recovered": (puts("LOST.DIR/77", data=b"\x93" * 900), ACCEPTED),
    "a picture in the trash": (puts(".Trash-1000/a.JPG", ".Trashes/501/b.JPG"), SAFE),
    "a picture in an index": (puts(".Spotlight-V100/a.JPG", ".fseventsd/b"), SAFE),
    "pictures in all systems' folders": (puts(*(f"{f}/1" for f in SYSTEM_FOLDERS)), SAFE),
    "a trash that cannot be listed": (lambda s: unlisted(s, ".Trashes"), ACCEPTED),
    "a drive's thumbnails": (puts("DCIM/100MEDIA/@eaDir/IMG_0001.JPG/THUMB_M.jpg"), SAFE),
    "a drive's thumbnail of what is gone": (puts("DCIM/@eaDir/GONE.JPG/THUMB_M.jpg"), SAFE),
    "a hidden folder": (puts(".hidden/a.JPG"), SAFE),
    "names of systems": (puts("Thumbs.db", ".DS_Store", data=b"n"), SAFE),
    "pictures by such names": (puts("Thumbs.db", "DCIM/._IMG_0001.JPG", "a/.nomedia"), SAFE),
    "names that are one elsewhere": (puts("a/X.JPG", "A/x.jpg", "A/X.JPG", ".tmp-1.JPG"), SAFE),
    "one picture twice": (puts("DCIM/A.JPG", "DCIM/B.JPG", data=made.jpeg(9_990)), SAFE),
    "a link": (lambda s: (s.root / "link.JPG").symlink_to(s.root / NAME), ACCEPTED),
    "a link to a folder": (lambda s: (s.root / "more").symlink_to(s.root.parent), ACCEPTED),
    "a pipe": (lambda s: os.mkfifo(s.root / "P.JPG"), ACCEPTED),
    "a socket": (socket_on, ACCEPTED),
    "a device": (device_on, ACCEPTED),
    "another disk inside": (inside_mounted, SAFE),
    "only that disk": (lambda s: inside_mounted(s, "DCIM"), NOT),
    "a folder of it": (lambda s: part(s, "DCIM/100MEDIA"), NOT),
    "a file of it": (lambda s: part(s, NAME), NOT),
    "a card on a card": (two_on_one, SAFE),
    "only the inner card": (lambda s: inner(s, "old"), NOT),
    "a stranger's card on a card": (lambda s: two_on_one(s, stranger=True), NOT),
    "nobody's pictures": (unknown, NOT),
    "a clip with its small picture": (small, SAFE),
    "a small picture that cannot be read": (lambda s: small(s, ends=True), ACCEPTED),
    "a phone's picture and its seconds": (live, SAFE),
    "seconds that end early": (lambda s: live(s, clip_ends=True), ACCEPTED),
    "its copy is damaged": (lambda s: None, SAFE),
    "its copy is gone": (lambda s: None, SAFE),
    "its copy is elsewhere": (lambda s: None, NOT),
    "a folder in its copy's place": (lambda s: None, NOT),
}
COPIES = {
    "its copy is damaged": "IMG_0001.JPG",
    "its copy is gone": "IMG_0003.JPG",
    "its copy is elsewhere": "IMG_0004.JPG",
    "a folder in its copy's place": "IMG_0002.JPG",
}
"""By the way the picture of the card that the logbook held before."""


def spoil(way: str, copy: Path, patch: pytest.MonkeyPatch) -> None:
    """Do to a copy in the logbook what the way's name says."""
    if way == "its copy is elsewhere":
        patch.setattr(one_file, "is_stub", lambda path: path == copy)
        return
    copy.chmod(0o600)
    if way == "its copy is damaged":
        copy.write_bytes(copy.read_bytes()[:-2] + b"!!")
    else:
        copy.unlink()
    if way == "a folder in its copy's place":
        made.fill(copy, {"x": b"x"})


def unaccounted(book: Folder, root: Path, done: IngestResult) -> list[str]:
    """The files of a card without a copy that were not accepted, nor named as no picture."""
    missing, lost = without_copy_of_any(book, root), [x.file for x in done.lost]
    missing = [m for m in missing if not any(covers(name, m) for name in lost)]
    missing = [m for m in missing if not any(covers(name, m) for name in small_copies(done))]
    aside = [x.file for x in done.companions]
    return [m for m in missing if is_jpeg(root / m) or not any(covers(name, m) for name in aside)]


def small_copies(done: IngestResult) -> list[str]:
    """What is named as a network drive's thumbnail of a picture that is there."""
    return [x.file for x in done.companions if x.why == DRIVE_PICTURE]


def is_jpeg(path: Path) -> bool:
    return path.read_bytes().startswith(b"\xff\xd8")


def covers(name: str, path: str) -> bool:
    return f"/{name}" in f"/{path}" if name.endswith("/") else f"/{path}".endswith(f"/{name}")


def without_copy_of_any(book: Folder, root: Path) -> list[str]:
    kept = {sum_of(p) for p in book.cards.rglob("files/**/*") if p.is_file()}
    files = [Path(top) / n for top, _, names in os.walk(root) for n in names]
    files = [p for p in files if stat.S_ISREG(p.lstat().st_mode)]
    return [p.relative_to(root).as_posix() for p in files if sum_of(p) not in kept]


@dataclass
class Told:
    """What was said of one card, and which of its files nobody kept or named."""

    safe: bool
    receipts: list[bool]
    missing: list[str]


def take_in(tmp_path: Path, cards: Sequence[Sequence[str]], accept: bool) -> list[Told]:
    """Take in, all at once, a card for each of these sets of ways; say what came of each."""
    bad = BadCard()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(tmp_path / "cache"))
        patch.setattr(cards_in, "_look_back", lambda folder, reports: ((), ()))
        patch.setattr(one_file, "LARGE", 100_000)
        patch.setattr(one_file, "_LARGEST_PICTURE", 150_000)
        book = made.logbook(tmp_path / "book", "CAM03")
        scenes = [Scene(tmp_path / f"{n:02d}/CAM03", n, patch, bad) for n in range(len(cards))]
        staged = [(way, scene) for ways, scene in zip(cards, scenes, strict=True) for way in ways]
        if before := [scene.root for way, scene in staged if way in COPIES]:
            ingest(book, before)
        old = set(book.cards.rglob(receipts.FILE))
        for way, scene in staged:
            if way in COPIES:
                copy = copy_of(book, scene.root / "DCIM/100MEDIA" / COPIES[way])
                spoil(way, copy, patch)
            WAYS[way][0](scene)
        named = [path for scene in scenes for path in scene.named]
        try:
            done = ingest(book, named, accept_refused=accept, reader=bad)
        except CamsignError:
            return [Told(False, [], []) for _ in cards]
        new = [receipts.read(p) for p in {*book.cards.rglob(receipts.FILE)} - old]
        found = [told(book, scene, done, new) for scene in scenes]
        if len(found) == 1:  # then no reason names its card
            found[0].safe = done.safe_to_wipe
        return found


def told(book: Folder, scene: Scene, done: IngestResult, found: list[receipts.Receipt]) -> Told:
    root = str(scene.root)
    safe = not any(root in why for why in done.reasons)
    said = [r.safe_to_wipe for r in found if r.source.startswith(root)]
    return Told(safe, said, unaccounted(book, scene.root, done))


def copy_of(book: Folder, file: Path) -> Path:
    return next(p for p in book.cards.rglob(file.name) if sum_of(p) == sum_of(file))


@pytest.fixture(scope="module", params=[False, True], ids=["", "accepted"])
def all_told(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[bool, dict[str, Told]]:
    accept = bool(request.param)
    found = take_in(tmp_path_factory.mktemp("ways"), [[w] for w in WAYS], accept)
    return accept, dict(zip(WAYS, found, strict=True))


not_on_windows = pytest.mark.skipif(os.name == "nt", reason="pipes and such names are not there")


@not_on_windows
@pytest.mark.thorough
@pytest.mark.parametrize("way", WAYS)
def test_safe_is_said_of_no_card_that_was_partly_read(
    all_told: tuple[bool, dict[str, Told]], way: str
) -> None:
    accept, found = all_told
    check(found[way], WAYS[way][1], accept)


def check(one: Told, says: str, accept: bool) -> None:
    assert one.safe is (says == SAFE or (accept and says == ACCEPTED))
    assert not one.safe or one.missing == []
    assert one.safe or not any(one.receipts)


@not_on_windows
@pytest.mark.parametrize("accept", [pytest.param(False, marks=pytest.mark.thorough), True])
def test_all_that_may_lie_on_a_card_that_is_safe_and_all_that_has_to_be_accepted(
    tmp_path: Path, accept: bool
) -> None:
    cards = [[w for w, (_, says) in WAYS.items() if says == which] for which in (SAFE, ACCEPTED)]
    safe, accepted = take_in(tmp_path, cards, accept)
    check(safe, SAFE, accept)
    check(accepted, ACCEPTED, accept)


@not_on_windows
def test_no_accepting_makes_safe_what_was_not_read(tmp_path: Path) -> None:
    ways = [w for w, (_, says) in WAYS.items() if says == NOT]
    for one in take_in(tmp_path, [[w] for w in ways], accept=True):
        check(one, NOT, accept=True)


@pytest.mark.long
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(ways=st.sets(st.sampled_from(sorted(WAYS)), min_size=2, max_size=3), accept=st.booleans())
def test_nor_where_several_things_happen_at_once(
    tmp_path_factory: pytest.TempPathFactory, ways: set[str], accept: bool
) -> None:
    (one,) = take_in(tmp_path_factory.mktemp("card"), [sorted(ways)], accept)
    assert not one.safe or one.missing == []


# ------------------------------------------------------------ what befalls the logbook's own disk


class FullDisk(Disk):
    """A disk with room for so many files."""

    room = 2

    def write(self, path: Path, data: bytes) -> None:
        self.room -= 1
        if self.room < 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        super().write(path, data)


def test_a_full_disk_takes_what_fits_and_says_not_to_wipe(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 4)
    with pytest.raises(CamsignError, match="do not wipe the card"):
        ingest(book, [card], disk=FullDisk())
    assert len(without_copy(book, card)) >= 2 and not list(book.cards.rglob(receipts.FILE))
    assert ingest(book, [card]).safe_to_wipe and without_copy(book, card) == []


def test_no_room_is_told_before_the_first_copy(
    book: Folder, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    full = shutil.disk_usage(tmp_path)._replace(free=100)
    monkeypatch.setattr(shutil, "disk_usage", lambda path: full)
    with pytest.raises(CamsignError, match="do not wipe the card"):
        ingest(book, [made.card(tmp_path / "CAM03", 2)])
    assert not list(book.cards.rglob("files/**/*"))


def test_a_dry_run_of_a_whole_card_makes_nothing_safe(book: Folder, tmp_path: Path) -> None:
    card = made.card(tmp_path / "CAM03", 2)
    for accept in (False, True):
        result = ingest(book, [card], dry_run=True, accept_refused=accept)
        assert not result.safe_to_wipe and result.new == 2
        assert verdict(result)[0] == "NOT SAFE TO WIPE:"
    assert len(without_copy(book, card)) == 2
