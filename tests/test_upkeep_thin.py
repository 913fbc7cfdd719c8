"""`thin`: bytes go, and nothing else does: every answer, fact and small picture stays."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import json
import shlex
import shutil
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import faults
import pytest
from kept_logbook import BUCK, files, frames, home, kept, overwrite, say  # noqa: F401
from test_logbook_older import GOLDEN, HERE

from camsign.cards.listing import list_cards
from camsign.cli import app
from camsign.derive.opening import open_logbook, remove_database
from camsign.errors import UsageError
from camsign.flows.intake import ingest
from camsign.flows.remeasure.look_again import look_again
from camsign.flows.upkeep import thin as flow
from camsign.flows.upkeep.backup import backup
from camsign.flows.upkeep.merge import merge
from camsign.flows.upkeep.thin import bring_back, thin
from camsign.flows.upkeep.verify import verify
from camsign.logbook import folder, let_go, placing
from camsign.logbook.edits import SetFields, TagFrames
from camsign.logbook.folder import Folder
from camsign.pixels.see import remake_thumb
from camsign.tags.frames import Which


@pytest.fixture
def book(home: Path) -> Folder:
    return Folder(home / "book")


def tables(book: Folder) -> dict[str, list[tuple[Any, ...]]]:
    """Every table of a database made anew, so that nothing comes from the cache."""
    remove_database(book)
    with open_logbook(book) as session:
        names = session.con.execute(
            "SELECT table_name FROM duckdb_tables() WHERE NOT temporary ORDER BY 1"
        ).fetchall()
        return {
            n: sorted(session.con.execute(f"FROM {n}").fetchall(), key=repr)
            for (n,) in names
            if n != "journals"
        }


def originals(book: Folder) -> list[str]:
    return sorted(p.name for p in book.cards.rglob("*.JPG"))


@pytest.mark.thorough
def test_only_with_consent_and_a_backup_and_nothing_but_bytes_goes(
    home: Path, book: Folder
) -> None:
    before, held = tables(book), files(book.root)
    with pytest.raises(UsageError, match="no backup was made yet"):
        thin(book)
    backup(book, home / "usb")
    listed = thin(book)
    assert (listed.frames, listed.unsafe, listed.unseen, listed.done) == (2, 0, 0, False)
    assert files(book.root) == held
    done = thin(book, consent=True)
    assert (done.frames, done.bytes, done.done) == (2, listed.bytes, True)
    assert len(originals(book)) == 4
    left = files(book.root)
    assert {n: left[n] for n in left if n in held} == {n: d for n, d in held.items() if n in left}
    assert sum(len(held[n]) for n in held.keys() - left.keys()) == done.bytes
    assert tables(book) == before
    found = verify(book)
    assert (found.findings, found.let_go, found.originals) == ([], 2, 6)
    with open_logbook(book) as session:
        (card,) = list_cards(session)
    assert (card.missing, card.safe_to_wipe) == (0, True)
    assert thin(book).frames == 0
    assert backup(book, home / "usb").elsewhere == 0
    assert backup(book, home / "another").elsewhere == 2  # the first disk alone has their bytes
    # Its small picture comes from the card's folder once the cache is gone.
    shutil.rmtree(book.thumbs, ignore_errors=True)
    with open_logbook(book) as session:
        rows = session.con.execute("SELECT frame, file FROM frames").fetchall()
    for frame, file in rows:
        made = remake_thumb(book.thumbs, frame, book.original(file))
        assert isinstance(made, Path) and made.read_bytes()[:2] == b"\xff\xd8"


@pytest.mark.thorough
@pytest.mark.parametrize("way", ["gone", "damaged", "unlisted", "unplugged"])
def test_what_the_backup_does_not_really_hold_stays(home: Path, book: Folder, way: str) -> None:
    usb = home / "usb"
    backup(book, usb)
    picture = next(usb.rglob("IMG_0003.JPG"))  # one of the two tagged nothing
    if way == "unplugged":
        usb.rename(home / "elsewhere")
        with pytest.raises(UsageError, match="is not there"):
            thin(book, consent=True)
        assert len(originals(book)) == 6
        assert thin(book, consent=True, without_backup=True).frames == 2
        return
    if way == "gone":
        picture.unlink()
    elif way == "damaged":
        faults.flip_bit(picture)
    else:
        sums = usb / "SHA256SUMS"
        lines = sums.read_text().splitlines(keepends=True)
        sums.write_text("".join(x for x in lines if "IMG_0003.JPG" not in x))
    done = thin(book, consent=True)
    assert (done.frames, done.unsafe) == (1, 1) and "IMG_0003.JPG" in originals(book)


@pytest.mark.thorough
def test_of_a_visit_the_best_stay_and_those_chosen_to_know_a_buck_by(book: Folder) -> None:
    every = frames(book)
    say(book, TagFrames(BUCK, every))
    with open_logbook(book) as session:
        sharp = session.con.execute(
            "SELECT d.frame FROM detections d LEFT JOIN looks l USING (frame)"
            " ORDER BY d.light = 'day' DESC, l.sharpness DESC NULLS LAST, d.utc"
        ).fetchall()
    by_best = [frame for (frame,) in sharp]
    say(book, SetFields("reference_picture", "r-1", {"buck": "b-1", "frame": by_best[-1]}))
    before = tables(book)
    assert thin(book, without_backup=True).frames == 0
    # One visit of six: the chosen one goes first and two more are kept.
    assert thin(book, keep=3, consent=True, without_backup=True).frames == 3
    with open_logbook(book) as session:
        rows = session.con.execute("SELECT frame, file FROM frames").fetchall()
    there = {frame for frame, file in rows if book.original(file).is_file()}
    assert there == {by_best[0], by_best[1], by_best[-1]}
    assert tables(book) == before


@pytest.mark.thorough
def test_every_answer_is_the_same_before_and_after(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "quiet-ridge"
    shutil.copytree(HERE / "quiet-ridge", book)

    def asked() -> dict[str, Any]:
        told = {}
        for question in GOLDEN["asked"]:
            assert app.run(["--logbook", str(book), *shlex.split(question), "--json"]) == 0
            told[question] = json.loads(capsys.readouterr().out)
        return told

    before = asked()
    done = thin(Folder(book), keep=1, consent=True, without_backup=True)
    assert done.frames >= 5
    remove_database(Folder(book))
    assert asked() == before
    assert verify(Folder(book)).damaged == []


@pytest.mark.thorough
def test_it_comes_back_from_the_backup_and_from_the_card(home: Path, book: Folder) -> None:
    backup(book, home / "usb")
    whole = files(book.root)
    thin(book, consent=True)
    assert bring_back(book, home / "nowhere") == (0, 2)
    assert bring_back(book, home / "usb") == (2, 0)
    now = files(book.root)
    assert now == whole
    assert not next(book.cards.rglob("*.JPG")).stat().st_mode & 0o222
    # The card that still has them is safe only with a copy of each, so that they come back.
    thin(book, consent=True)
    assert ingest(book, [home / "CAM03"]).safe_to_wipe
    assert len(originals(book)) == 6 and verify(book).findings == []
    assert files(book.root).keys() == whole.keys()
    next(book.cards.rglob("IMG_0003.JPG")).unlink()
    assert [f.what for f in verify(book).damaged] == ["is missing"]


@pytest.mark.thorough
def test_a_friend_takes_the_card_over_as_it_is_and_measures_stay(
    home: Path, book: Folder, tmp_path: Path
) -> None:
    thin(book, consent=True, without_backup=True)
    looked = look_again(book, Which(), every=True)
    assert (looked.frames, len(looked.skipped)) == (4, 2)
    assert "let go" in looked.skipped[0].why
    with open_logbook(book) as session:
        assert session.con.execute("SELECT count(*) FROM looks").fetchone() == (6,)
    his = folder.create(tmp_path / "his", book.settings.tz, None, "imperial")
    came = merge(his, book.root, anywhere=True)
    assert (came.cards, came.frames, came.left) == (1, 6, [])
    found = verify(his)
    assert (found.damaged, found.let_go) == ([], 2)
    done = backup(his, home / "his-usb")
    assert done.left == [] and verify(Folder(home / "his-usb")).let_go == 2


@pytest.mark.thorough
@pytest.mark.parametrize("hit", ["list", "small", "line"])
def test_damage_to_what_stays_is_found_and_named(book: Folder, hit: str) -> None:
    thin(book, consent=True, without_backup=True)
    (card,) = book.cards.iterdir()
    if hit == "small":
        faults.flip_bit(next((card / let_go.SMALL).iterdir()))
        (told,) = verify(book).damaged
        assert f"/{let_go.SMALL}/" in told.file
        return
    path = card / let_go.FILE
    if hit == "list":
        path.unlink()
        found = verify(book)
        # A small picture alone tells nothing of what a person let go of.
        assert ([f.what for f in found.damaged], found.let_go) == (["is missing"] * 2, 0)
    else:
        overwrite(path, path.read_bytes().replace(b"IMG_0003", b"IMG_0103"))
        told = {Path(f.file).name: f.what for f in verify(book).damaged}
        assert list(told) == [let_go.FILE]


def test_what_is_tagged_otherwise_while_the_backup_is_read_stays(home: Path, book: Folder) -> None:
    backup(book, home / "usb")

    def told(done: int, of: int) -> None:
        if done == of:
            say(book, TagFrames(BUCK, frames(book)))

    thin(book, consent=True, progress=told)
    assert len(originals(book)) == 6


@pytest.mark.thorough
def test_what_is_tagged_otherwise_between_two_batches_stays(
    book: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A friend at another terminal: his word waits while one picture goes, and keeps the next."""
    spare = frames(book)[2:4]
    went: list[str] = []
    real = flow._let_go_of_card

    def let_go_of(folder: Folder, home: Path, spares: Sequence[flow.Spare], small: Any) -> None:
        went.extend(s.frame for s in spares)
        real(folder, home, spares, small)
        if not friend:
            other = next(f for f in spare if f not in went)
            friend.append(threading.Thread(target=say, args=(book, TagFrames(BUCK, [other]))))
            friend[0].start()
            while not list((book.cache / "waiting").glob("*")):
                assert friend[0].is_alive()
                time.sleep(0.01)

    friend: list[threading.Thread] = []
    monkeypatch.setattr(flow, "_BATCH", 1)
    monkeypatch.setattr(flow, "_let_go_of_card", let_go_of)
    done = thin(book, consent=True, without_backup=True)
    friend[0].join(60)
    assert (done.frames, len(went), len(originals(book))) == (1, 1, 5)


class CrashError(BaseException):
    """The process ends here."""


@pytest.mark.thorough
def test_whatever_step_is_the_last_nothing_is_missed(
    book: Folder, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    kinds = {name: getattr(placing.Disk, name) for name in ("write", "rename", "fsync_folder")}
    unlink = Path.unlink
    for last in range(99):
        copy = Folder(tmp_path / f"book{last}")
        shutil.copytree(book.root, copy.root)
        left = [last]

        def step(left: list[int] = left) -> None:
            left[0] -= 1
            if left[0] < 0:
                raise CrashError

        with monkeypatch.context() as patch:
            for name, kind in kinds.items():
                patch.setattr(placing.Disk, name, lambda *args, kind=kind: (step(), kind(*args))[1])
            patch.setattr(
                Path,
                "unlink",
                lambda self, **more: (
                    step() if self.suffix == ".JPG" else None,
                    unlink(self, **more),
                )[1],
            )
            try:
                thin(copy, consent=True, without_backup=True)
                break
            except CrashError:
                pass
        assert verify(copy).damaged == [], last
        thin(copy, consent=True, without_backup=True)
        found = verify(copy)
        assert (found.damaged, found.let_go) == ([], 2), last
    assert last > 6


@pytest.mark.thorough
@pytest.mark.parametrize("hit", ["small", "list", "sums"])
def test_damage_to_what_stays_leaves_the_good_one_in_the_backup(
    home: Path, book: Folder, hit: str
) -> None:
    backup(book, home / "usb")
    thin(book, consent=True)
    backup(book, home / "usb")
    good = files(home / "usb")
    (card,) = book.cards.iterdir()
    if hit == "small":
        path = next((card / let_go.SMALL).iterdir())
        faults.flip_bit(path)
    elif hit == "list":
        path = card / let_go.FILE
        overwrite(path, path.read_bytes().replace(b"IMG_0003", b"IMG_0103"))
    else:
        path = card / "SHA256SUMS"
        first, rest = path.read_bytes().split(b"  ", 1)
        overwrite(path, b"0" * len(first) + b"  " + rest)
    done = backup(book, home / "usb")
    assert files(home / "usb") == good
    assert path.relative_to(book.root).as_posix() in " ".join(done.left)


@pytest.mark.thorough
def test_what_was_let_go_comes_back_by_its_hash_where_the_facts_are_damaged(
    home: Path, book: Folder
) -> None:
    backup(book, home / "usb")
    thin(book, consent=True)
    overwrite(next(book.cards.rglob("frames.parquet")), b"no table of facts")
    assert bring_back(book, home / "usb") == (2, 0)
