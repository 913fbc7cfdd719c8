"""SIGKILL at random instants over everything that writes; then verify, rebuild and compare."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import hashlib
import itertools
import random
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import faults
import made_cards as made
import pytest
from kept_logbook import CAMERA, files, home, kept, make, of_files, say  # noqa: F401

from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.intake import ingest
from camsign.flows.upkeep.verify import verify
from camsign.logbook import folder
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder

NEEDS = {"ingest": "second", "merge": "his", "backup": "usb"}


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """`book`, a second card for it, and `his`: a friend's logbook with a card and words of his."""
    home = tmp_path_factory.mktemp("kills")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        make(home, n=12)
        made.card(home / "second", 12, first=40)
        toml = (home / "book" / "logbook.toml").read_bytes()
        his = folder.create(home / "his", made.TZ, None, "imperial")
        (his.root / "logbook.toml").write_bytes(toml)
        his = Folder(home / "his")
        made.card(home / "third", 12, first=80)
        ingest(his, [home / "third"], camera="CAM07")
        for i in range(5):
            say(his, SetFields("buck", f"b-{i}", {"name": f"His {i}"}))
        yield home


def copied(world: Path, to: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("book", "his", "second", "cache", "config"):
        shutil.copytree(world / name, to / name, dirs_exist_ok=True)
    monkeypatch.setenv("CAMSIGN_CACHE", str(to / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(to / "config"))
    return to


def state(at: Path, anew: bool = True) -> dict[str, Any]:
    """What the logbook says and holds, from its database, made anew or as it stands; the backup.

    Notes of the same thing by another writer, and the folder's own names of moments, are left out.
    """
    book = Folder(at / "book")
    if anew:
        remove_database(book)
    with open_logbook(book) as session:
        con = session.con
        tables = {
            t: sorted(con.execute(f"SELECT {cells} FROM {t}").fetchall(), key=repr)
            for t, cells in (
                ("frames", "*"), ("looks", "*"), ("tags", "*"), ("bucks", "* EXCLUDE (traits)"),
                ("frame_times", "*"), ("watch", "*"), ("troubles", "*"),
                ("cards", "* EXCLUDE (taken_in_utc, source)"),
            )
        }  # fmt: skip
    disk = {n: d for n, d in made.disk(book).items() if "small/" not in n}
    usb = files(at / "usb") if (at / "usb").exists() else {}
    return tables | {"disk": disk, "usb": usb}


def sums_hold(usb: Path) -> bool:
    path = usb / "SHA256SUMS"
    lines = path.read_text(encoding="utf-8").splitlines() if path.exists() else []
    pairs = (line.split("  ", 1) for line in lines)
    return all(hashlib.sha256((usb / name).read_bytes()).hexdigest() == sha for sha, name in pairs)


def kills(
    world: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, works: list[str], seed: int
) -> int:
    """Kill each of the works once, at a random instant of it; give how many were hit at work."""
    chance, hits = random.Random(seed), 0
    undisturbed: dict[str, tuple[float, dict[str, Any]]] = {}
    for i, work in enumerate(works):
        if work not in undisturbed:
            at = copied(world, tmp_path / f"whole-{work}", monkeypatch)
            more = [at / NEEDS[work]] if work in NEEDS else []
            ran = faults.killed(work, at / "book", *more, after_s=2.0 if work == "tag" else None)
            undisturbed[work] = ran.span_s, state(at)
            if work != "tag":
                shutil.rmtree(at)
        span, expected = undisturbed[work]
        at = copied(world, tmp_path / f"killed-{i}", monkeypatch)
        more = [at / NEEDS[work]] if work in NEEDS else []
        instant = chance.random() * span * 0.8
        ran = faults.killed(work, at / "book", *more, after_s=instant)
        hits += ran.hit
        after = f"{work}, kill {i} after {instant:.3f} s"
        check = (lambda b: verify(b).findings) if i % 10 == 0 else of_files
        damaged = [f for f in check(Folder(at / "book")) if f.kind == "damage"]
        assert damaged == [], (after, damaged)
        if work == "backup" and (at / "usb").exists():
            assert sums_hold(at / "usb"), after
        if work == "tag":
            with open_logbook(Folder(at / "book")) as session:
                rows = session.con.execute("SELECT what FROM acts WHERE what LIKE 'noted %'")
                noted = {what for (what,) in rows.fetchall()}
            assert noted >= {f"noted {n}" for n in ran.told}, after
            assert len(noted) <= len(ran.told) + 1, after
        else:
            faults.killed(work, at / "book", *more, after_s=None)
        assert state(at, anew=False) == expected, after
        assert state(at) == expected, after
        assert of_files(Folder(at / "book")) == [], after
        shutil.rmtree(at)
    return hits


def test_two_kills_while_tags_are_said(
    world: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert kills(world, tmp_path, monkeypatch, ["tag", "tag"], seed=3) >= 1


@pytest.mark.thorough
def test_one_kill_of_each(world: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert kills(world, tmp_path, monkeypatch, list(faults.KINDS), seed=4) >= 2


@pytest.mark.long
def test_two_hundred_kills(world: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    works = list(itertools.islice(itertools.cycle(faults.KINDS), 200))
    assert kills(world, tmp_path, monkeypatch, works, seed=5) >= 80
