"""`backup`: a second copy that any machine can check, and that no damage at home can spoil."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import hashlib
import itertools
import shutil
import subprocess
from datetime import timedelta
from pathlib import Path

import faults
import made_cards as made
import pytest
from kept_logbook import BUCK, files, home, kept, overwrite, say  # noqa: F401

from camsign.cli import app
from camsign.derive.opening import open_logbook
from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.flows.intake import ingest
from camsign.flows.intake.result import verdict
from camsign.flows.upkeep.backup import backup
from camsign.flows.upkeep.verify import repair, verify
from camsign.logbook import placing, second_copies
from camsign.logbook.edits import SetFields, UntagFrames
from camsign.logbook.folder import Folder


@pytest.fixture
def book(home: Path) -> Folder:
    return Folder(home / "book")


@pytest.fixture
def usb(home: Path) -> Path:
    return home / "usb"


def untrue(usb: Path) -> list[str]:
    """The lines of SHA256SUMS that are not true, read by hand."""
    path = usb / "SHA256SUMS"
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    pairs = (line.split("  ", 1) for line in lines)
    return [
        name
        for sha, name in pairs
        if not (usb / name).is_file()
        or hashlib.sha256((usb / name).read_bytes()).hexdigest() != sha
    ]


def test_it_holds_every_file_and_coreutils_agrees(book: Folder, usb: Path) -> None:
    before = files(book.root)
    done = backup(book, usb)
    assert (done.copied, done.there, done.left, done.damaged) == (len(before), 0, [], [])
    assert files(book.root) == before
    held = files(usb)
    assert {n: d for n, d in held.items() if n in before} == before
    sums = held["SHA256SUMS"].decode().splitlines()
    assert {line.split("  ", 1)[1] for line in sums} == before.keys()
    assert held.keys() - before.keys() == {"SHA256SUMS", "THIS-IS-A-BACKUP.txt"}
    if shutil.which("sha256sum"):
        words = ["sha256sum", "-c", "--strict", "--quiet", "SHA256SUMS"]
        assert subprocess.run(words, cwd=usb, check=False).returncode == 0
    assert not untrue(usb)
    # It is a logbook of its own, and all right.
    copy = usb.with_name("restored")
    shutil.copytree(usb, copy)
    assert verify(Folder(copy)).damaged == []
    with open_logbook(Folder(copy)) as session:
        assert session.con.execute("SELECT count(*) FROM tags").fetchone() == (4,)


@pytest.mark.thorough
def test_only_what_is_new_is_copied_and_the_last_place_is_remembered(
    home: Path, book: Folder, usb: Path
) -> None:
    with pytest.raises(UsageError, match="there is no backup yet"):
        backup(book)
    backup(book, usb)
    assert backup(book).copied == 0
    say(book, SetFields("buck", "b-1", {"note": "limps"}))
    assert backup(book).copied == 1  # the journal
    made.card(home / "second", 2, first=70)
    ingest(book, [home / "second"], camera="CAM03")
    done = backup(book)
    # Two pictures, their four tables and receipts, and what is shown of the first card may grow.
    assert 6 <= done.copied <= 8 and not untrue(usb)
    assert app.run(["backup"]) == 0


@pytest.mark.thorough
@pytest.mark.parametrize("hit", ["original", "frames.parquet", "receipt.json", "journal"])
def test_damage_at_home_never_reaches_the_copy(book: Folder, usb: Path, hit: str) -> None:
    backup(book, usb)
    good = files(usb)
    (path,) = {
        "original": list(book.cards.rglob("IMG_0002.JPG")),
        "journal": list(book.journal.iterdir()),
    }.get(hit) or list(book.cards.rglob(hit))
    if hit == "journal":
        lines = path.read_bytes().splitlines(keepends=True)
        overwrite(path, b"".join(lines[:2] + lines[3:]))
    else:
        faults.flip_bit(path, 3)
    done = backup(book, usb)
    held = files(usb)
    lost = {n for n, data in good.items() if data not in held.values() and n != "SHA256SUMS"}
    assert not lost and not untrue(usb)
    assert bool(done.left) is (hit in ("frames.parquet", "receipt.json"))
    if hit == "journal":
        assert len(list((usb / "journal").iterdir())) == 2
        assert verify(Folder(usb)).damaged == []
    if hit == "original":
        assert repair(book, [usb]).findings == []


@pytest.mark.thorough
def test_a_damaged_original_that_is_in_no_copy_is_left_and_told(
    book: Folder, usb: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    faults.flip_bit(next(book.cards.rglob("IMG_0003.JPG")))
    next(book.cards.rglob("IMG_0004.JPG")).unlink()
    assert app.run(["backup", str(usb)]) == 1
    told = capsys.readouterr().err
    assert "IMG_0003.JPG: its bytes were changed" in told and "IMG_0004.JPG: is missing" in told
    assert not list(usb.rglob("IMG_0003.JPG")) and not untrue(usb)
    assert "without 2 files" in second_copies.words(book)


@pytest.mark.thorough
def test_a_check_finds_what_is_damaged_in_the_copy_and_copies_it_anew(
    book: Folder, usb: Path
) -> None:
    backup(book, usb)
    good = files(usb)
    for name in ("IMG_0001.JPG", "frames.parquet", "IMG_0005.JPG"):
        faults.flip_bit(next(usb.rglob(name)), 5)
    next(book.cards.rglob("IMG_0005.JPG")).unlink()
    assert backup(book, usb).copied == 1  # small files are compared by each run, pictures by size
    done = backup(book, usb, check=True)
    assert (done.checked, done.copied) == (len(good) - 2, 1)
    assert [Path(name).name for name in done.damaged] == ["IMG_0005.JPG"]
    now = files(usb)
    differing = {n for n in good if now[n] != good[n]}
    assert {Path(n).name for n in differing} == {"IMG_0005.JPG", "SHA256SUMS"}
    assert not untrue(usb)


@pytest.mark.thorough
def test_what_the_logbook_no_longer_holds_stays_in_the_copy(book: Folder, usb: Path) -> None:
    backup(book, usb)
    (card,) = book.cards.iterdir()
    shutil.rmtree(card)
    done = backup(book, usb)
    assert done.kept >= 6 and len(list(usb.rglob("*.JPG"))) == 6 and not untrue(usb)


@pytest.mark.thorough
def test_a_place_that_holds_something_else_is_refused(home: Path, book: Folder, usb: Path) -> None:
    (home / "photos").mkdir()
    (home / "photos" / "one.jpg").write_bytes(b"x")
    for place in (home / "photos", book.root, book.cards / "copy", home, home / "no" / "disk"):
        with pytest.raises(UsageError):
            backup(book, place)
    other = made.logbook(home / "other")
    backup(book, usb)
    with pytest.raises(UsageError, match="another logbook"):
        backup(other, usb)
    assert files(home / "photos") == {"one.jpg": b"x"}


class CrashError(BaseException):
    """The process ends here."""


@pytest.mark.thorough
def test_whatever_step_is_the_last_each_sum_is_true_and_the_next_run_completes_it(
    book: Folder, usb: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    backup(book, usb)
    say(book, SetFields("buck", "b-1", {"name": "Umber Two"}))
    say(book, UntagFrames(BUCK.key, ["0" * 16]))
    next(usb.rglob("IMG_0001.JPG")).unlink()
    whole, half = usb.with_name("whole"), usb.with_name("half")
    shutil.copytree(usb, whole)
    backup(book, whole)
    expected = files(whole)
    counted = itertools.count()
    kinds = {name: getattr(placing.Disk, name) for name in ("write", "rename", "fsync_folder")}

    def crash_at(last: int) -> None:
        count = itertools.count()

        def step(name: str, *args: object) -> object:
            if next(count) >= last:
                raise CrashError
            return kinds[name](*args)

        for name in kinds:
            monkeypatch.setattr(placing.Disk, name, lambda *args, name=name: step(name, *args))
        monkeypatch.setattr(placing, "discard", lambda path: None)  # the dead tidy nothing away

    discard = placing.discard
    for last in counted:
        shutil.rmtree(half, ignore_errors=True)
        shutil.copytree(usb, half)
        crash_at(last)
        try:
            backup(book, half)
            break
        except CrashError:
            torn = untrue(half)
            assert [n for n in torn if not n.endswith("IMG_0001.JPG")] == [], last
        finally:
            for name, kind in kinds.items():
                monkeypatch.setattr(placing.Disk, name, kind)
            monkeypatch.setattr(placing, "discard", discard)
        backup(book, half)
        assert files(half) == expected, last
    assert last > 6


@pytest.mark.thorough
def test_a_file_that_a_sum_speaks_of_is_never_taken_for_what_a_killed_run_left(
    book: Folder, usb: Path
) -> None:
    backup(book, usb)
    one = next(usb.rglob("IMG_0001.JPG"))
    left, odd = (one.with_name(f".tmp-{i:012x}") for i in (1, 2))
    left.write_bytes(b"half")
    odd.write_bytes(one.read_bytes())
    sums = usb / "SHA256SUMS"
    sha = hashlib.sha256(odd.read_bytes()).hexdigest()
    sums.write_text(f"{sums.read_text()}{sha}  {odd.relative_to(usb).as_posix()}\n")
    one.unlink()
    backup(book, usb)
    assert one.is_file() and odd.is_file() and not left.exists()
    assert untrue(usb) == []


@pytest.mark.thorough
def test_a_full_disk_says_so_and_spoils_nothing(book: Folder, usb: Path, tmp_path: Path) -> None:
    with faults.small_disk(tmp_path / "small", 1) as disk:
        (disk / "ballast").write_bytes(bytes(1_000_000))
        with pytest.raises((InputRefused, CamsignError)) as caught:
            backup(book, disk / "copy")
        assert "copy" in str(caught.value) and not untrue(disk / "copy")
        (disk / "ballast").unlink()
        done = backup(book, disk / "copy")
        assert done.left == [] and not untrue(disk / "copy")
        assert files(book.root).items() <= files(disk / "copy").items()


@pytest.mark.thorough
def test_a_card_that_comes_in_is_told_how_old_the_backup_is(
    home: Path, book: Folder, usb: Path
) -> None:
    made.card(home / "second", 2, first=70)
    result = ingest(book, [home / "second"], camera="CAM03")
    assert verdict(result)[1].startswith("This logbook has no backup. Make one: camsign backup ")
    backup(book, usb)
    made.card(home / "third", 2, first=90)
    result = ingest(book, [home / "third"], camera="CAM03")
    assert verdict(result)[1] == (
        f"Last backup today, in {usb}; these pictures are not in it yet: camsign backup"
    )
    (copy,) = second_copies.known(book)
    for days, age in ((0, "today"), (1, "yesterday"), (12, "12 days ago")):
        now = copy.at + timedelta(days=days, hours=1)
        assert second_copies.words(book, now) == f"Last backup {age}, in {usb}."
    # Of a memory that is nonsense nothing is believed.
    (path,) = (home / "config" / "backups").iterdir()
    path.write_text('{"/x": {"at": 7}}', encoding="utf-8")
    assert second_copies.known(book) == []
