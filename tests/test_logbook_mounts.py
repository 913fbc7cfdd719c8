"""A logbook, a card and a backup on sticks as people have them: exFAT, NTFS and FAT, mounted."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path
from typing import Any

import faults
import made_cards as made
import pytest
from kept_logbook import CAMERA, home, kept, say  # noqa: F401

from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.intake import ingest
from camsign.flows.upkeep.backup import backup
from camsign.flows.upkeep.merge import merge
from camsign.flows.upkeep.thin import thin
from camsign.flows.upkeep.verify import verify
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder

TABLES = ("frames", "looks", "tags", "bucks", "watch", "frame_times")


def copied(source: Path, to: Path) -> Path:
    """Copy the bytes of a folder's files and no more: not every disk sets modes and times."""
    for path in sorted(source.rglob("*")):
        target = to / path.relative_to(source)
        if path.is_file():
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(path.read_bytes())
    return to


def said(book: Folder) -> dict[str, list[tuple[Any, ...]]]:
    remove_database(book)
    with open_logbook(book) as session:
        return {t: sorted(session.con.execute(f"FROM {t}").fetchall(), key=repr) for t in TABLES}


def work(book: Folder, card: Path, usb: Path) -> None:
    """Take a card in, say something, make a backup, let go of pictures, and a backup again."""
    assert ingest(book, [card], camera=CAMERA).new == 6
    for i in range(3):
        say(book, SetFields("buck", "b-1", {"name": f"Umber {i}"}))
    assert backup(book, usb).left == []
    assert thin(book, consent=True).frames == 2
    assert backup(book, usb, check=True).damaged == []


@pytest.mark.long
@pytest.mark.parametrize("kind", sorted(faults.MOUNTS))
def test_a_stick_holds_a_logbook_a_card_and_a_backup(home: Path, tmp_path: Path, kind: str) -> None:
    image = tmp_path / f"{kind}.img"
    made.card(home / "second", 6, first=40)
    shutil.copytree(home / "book", home / "plain")
    work(Folder(home / "plain"), home / "second", home / "plain-usb")
    with faults.stick(image, kind) as at:
        card = copied(home / "second", at / "CARD")
        work(Folder(copied(home / "book", at / "book")), card, at / "usb")
    with faults.stick(image, kind) as at:  # pulled out and put in again
        book = Folder(at / "book")
        assert verify(book).findings == []
        assert {t: len(r) for t, r in said(book).items()} == {
            t: len(r) for t, r in said(Folder(home / "plain")).items()
        }
        sums = subprocess.run(
            ["sha256sum", "-c", "--quiet", "SHA256SUMS"], cwd=at / "usb", capture_output=True
        )
        assert (sums.returncode, sums.stdout) == (0, b"")
        assert merge(book, home / "plain").left == []


@pytest.mark.long
@pytest.mark.parametrize("kind", sorted(faults.MOUNTS))
def test_kills_on_a_stick(home: Path, tmp_path: Path, kind: str) -> None:
    card = made.card(home / "second", 12, first=40)
    with faults.stick(tmp_path / f"{kind}.img", kind) as at:
        for i, after in enumerate((0.02, 0.1, 0.2, 0.4, 0.8)):
            book = Folder(copied(home / "book", at / f"book{i}"))
            faults.killed("ingest", book.root, card, after_s=after)
            assert [f for f in verify(book).findings if f.kind == "damage"] == []
            faults.killed("ingest", book.root, card, after_s=None)
            assert verify(book).findings == []
            assert len(said(book)["frames"]) == 18
