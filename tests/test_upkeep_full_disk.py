"""A disk that is full, for real, under everything that writes: one line, and nothing is spoiled."""

# ruff: noqa: F811 - fixtures of another file are arguments here

from __future__ import annotations

import shutil
from pathlib import Path

import faults
import pytest
from test_upkeep_kills import NEEDS, state, sums_hold, world  # noqa: F401

from camsign.cli import app
from camsign.derive.opening import open_logbook, remove_database
from camsign.errors import FAULT
from camsign.flows.upkeep.verify import verify
from camsign.logbook.folder import Folder

COMMANDS = {
    "ingest": ("ingest", "second", "--camera", "CAM03"),
    "tag": ("buck", "add", "Late Riser"),
    "merge": ("merge", "his"),
    "rebuild": ("rebuild",),
    "thin": ("thin", "--yes", "--without-backup"),
    "backup": ("backup", "usb"),
}


@pytest.mark.parametrize(
    "work",
    [one if one == "tag" else pytest.param(one, marks=pytest.mark.thorough) for one in COMMANDS],
)
def test_a_full_disk_is_one_line_and_goes_on_once_there_is_room(
    world: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    work: str,
) -> None:
    with faults.small_disk(tmp_path / "disk", 24) as disk:
        for name in ("book", "his", "second"):
            shutil.copytree(world / name, disk / name)
        monkeypatch.setenv("CAMSIGN_CACHE", str(disk / "cache"))
        monkeypatch.setenv("CAMSIGN_CONFIG", str(tmp_path / "config"))
        monkeypatch.chdir(disk)
        state(disk)
        words = ["--logbook", str(disk / "book"), *COMMANDS[work]]
        refused = 0
        for spare in (0, 8_192, 49_152):
            if work == "tag":
                words[-1] = f"Late Riser {spare}"
            if work == "rebuild":
                remove_database(Folder(disk / "book"))  # else its own room is enough
            held = {p for p in (disk / "book").rglob("*") if p.is_file()}
            fill(disk, spare)
            capsys.readouterr()
            code = app.run(words)
            told = capsys.readouterr()
            assert code != FAULT and "Traceback" not in told.err, (spare, told.err)
            (disk / "ballast").unlink()
            refused += code not in (0, 1)
            if code not in (0, 1):
                assert told.err.count("\n") <= 3 and told.err.startswith("camsign: "), told.err
                assert work != "tag" or words[-1] not in names(disk)
            gone = {p for p in held if not p.exists()}
            assert work == "thin" or not gone
            assert verify(Folder(disk / "book")).damaged == [], spare
            assert sums_hold(disk / "usb")
        assert refused >= 1
        words[-1] = words[-1].replace("Late", "Later")
        assert app.run(words) in (0, 1)
        assert verify(Folder(disk / "book")).findings == []


def names(disk: Path) -> set[str]:
    """The bucks that somebody named, from a database made anew."""
    remove_database(Folder(disk / "book"))
    with open_logbook(Folder(disk / "book")) as session:
        return {name for (name,) in session.con.execute("SELECT name FROM bucks").fetchall()}


def fill(disk: Path, spare: int) -> None:
    """Leave so many bytes free."""
    free = shutil.disk_usage(disk).free
    with (disk / "ballast").open("wb") as f:
        f.write(bytes(max(0, free - spare)))
