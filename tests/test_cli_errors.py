"""What a person sees when something does not fit: one line, the exit code, no traceback."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import made_cards
import pytest

from camsign.cli.app import run
from camsign.errors import ATTENTION, BUSY, FAULT, REFUSED, USAGE
from camsign.logbook.folder import Folder


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "book"
    assert run(["init", str(root), "--home", "44.6,-71.2", "--json"]) == 0
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(root))
    return root


HANG = ("hang", "CAM01", "--from", "2025-08-10", "--at")


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        ((*HANG, "95,-71.2"), USAGE, "95"),
        ((*HANG, "44.6,-71.2", "--clock", "noon"), USAGE, "noon"),
        (("takedown", "CAM99", "--on", "2025-09-01"), USAGE, "CAM99"),
        (("when", "Nobody", "Nowhere"), USAGE, "Nobody"),
        (("visits", "--buck", "Nobody"), USAGE, "Nobody"),
        (("visits", "--by", "moon"), USAGE, "moon"),
        (("tag", "Nobody", "0123456789ab"), USAGE, "Nobody"),
        (("area", "add", "X", "--at", "44.6,-71.2", "--radius", "wide"), USAGE, "wide"),
        (("sign", "add", "rub", "--at", "44.6,-71.2", "--on", "2999-01-01"), USAGE, "2999"),
        (("sign", "add", "rub", "--at", "x", "--on", "2025-01-01"), USAGE, "x"),
        (("init", "."), REFUSED, "not an empty folder"),
        (("undo",), REFUSED, "nothing to undo"),
        (("ingest", "nowhere-at-all"), USAGE, "nowhere-at-all"),
        (("map", "m.png"), REFUSED, "nothing to map"),
    ],
)
def test_one_line_and_the_documented_code(
    book: Path,
    tmp_path: Path,
    words: tuple[str, ...],
    code: int,
    told: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    if words == ("init", "."):
        words = ("init", str(tmp_path), "--home", "44.6,-71.2")
    capsys.readouterr()
    assert run(words) == code
    out = capsys.readouterr()
    assert out.out == ""
    lines = out.err.strip().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("camsign: ")
    assert told in lines[0]


def test_a_day_in_an_error_reads_as_elsewhere(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It said `2026-11-29` where every answer says `Nov 29, 2026`; what to type keeps its form."""
    assert run(["visits", "--from", "2025-11-01", "--to", "2025-10-01"]) == USAGE
    assert "from Nov 1, 2025 to Oct 1, 2025; swap them" in capsys.readouterr().err
    assert run(["visits", "--from", "2025-13-13"]) == USAGE
    assert "write it as 2026-03-14" in capsys.readouterr().err


def test_words_that_are_no_command_are_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["fetch"]) == USAGE
    assert "fetch" in capsys.readouterr().err


def test_no_logbook_says_how_to_start_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CAMSIGN_LOGBOOK", raising=False)
    assert run(["visits"]) == USAGE
    assert "camsign init" in capsys.readouterr().err


def test_a_gpx_that_is_no_xml_is_refused(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "walk.gpx"
    path.write_text("this is no xml")
    assert run(["sign", "import", str(path)]) == REFUSED
    err = capsys.readouterr().err
    assert "walk.gpx" in err and len(err.strip().splitlines()) == 1


def test_a_busy_logbook_says_who_holds_it(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CAMSIGN_WAIT", "0.3")
    code = (
        "import sys, time; from pathlib import Path\n"
        "from camsign.logbook import lock; from camsign.logbook.folder import Folder\n"
        "with lock.held(Folder(Path(sys.argv[1])).cache):\n"
        "    print('held', flush=True); time.sleep(30)\n"
    )
    held = subprocess.Popen(
        [sys.executable, "-c", code, str(book)], stdout=subprocess.PIPE, env=os.environ.copy()
    )
    assert held.stdout is not None
    assert held.stdout.readline().strip() == b"held"
    try:
        assert run(["visits"]) == BUSY
    finally:
        held.kill()
        held.wait()
    err = capsys.readouterr().err
    assert f"process {held.pid}" in err
    assert Folder(book).cache.exists()
    assert run(["visits", "--json"]) == 0


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may write anywhere")
def test_a_read_only_logbook_answers_but_notes_nothing(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (book / "journal").chmod(0o500)
    assert run(["visits", "--json"]) == 0
    assert run(["buck", "add", "Burr"]) == REFUSED
    (book / "journal").chmod(0o700)
    assert "nothing was noted" in capsys.readouterr().err


def test_a_card_of_an_unknown_camera_names_the_line_that_would_settle_it(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    card = made_cards.card(tmp_path / "NO NAME", 2)
    assert run(["ingest", str(card)]) == REFUSED
    assert "--camera" in capsys.readouterr().err


@pytest.mark.thorough
def test_a_bad_file_costs_one_line_and_the_rest_goes_in(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    card = made_cards.card(tmp_path / "card", 3)
    (card / "DCIM/100MEDIA/IMG_0009.JPG").write_text("a letter, not a picture")
    assert run(["ingest", str(card), "--camera", "CAM01"]) == 1
    out = capsys.readouterr().out
    assert "IMG_0009.JPG" in out and "NOT SAFE TO WIPE" in out
    assert "Took in 3 new" in out


def test_an_answer_from_a_damaged_journal_needs_attention(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["buck", "add", "Burr"]) == 0
    assert run(["buck", "add", "Latch"]) == 0
    journal = next((book / "journal").glob("*.jsonl"))
    journal.write_bytes(journal.read_bytes().replace(b"Burr", b"Bxrr", 1))
    shutil.rmtree(Folder(book).cache)  # what was read before the damage is still known there
    capsys.readouterr()
    assert run(["buck", "list", "--json"]) == ATTENTION
    out = capsys.readouterr()
    assert "Latch" in out.out and "Burr" not in out.out
    assert "damaged" in out.err and len(out.err.strip().splitlines()) == 1


@pytest.mark.thorough
def test_a_correction_is_named_and_taken_back(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run([*HANG, "44.6,-71.2"]) == 0
    assert run(["ingest", str(made_cards.card(tmp_path / "CAM01", 2)), "--camera", "CAM01"]) == 0
    assert run(["clock", "set", "CAM01", "--shift", "1h"]) == 0
    capsys.readouterr()
    assert run(["clock", "list", "--json"]) == 0
    fix = json.loads(capsys.readouterr().out)["rows"][0]["clock_fix"]
    assert run(["clock", "remove", "no such"]) == USAGE
    assert run(["clock", "remove", fix[:6]]) == 0
    assert "2 pictures" in capsys.readouterr().out
    assert run(["clock", "list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rows"] == []


@pytest.mark.thorough
def test_what_nobody_foresaw_is_one_line_and_a_developer_gets_all(
    book: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("odd\nin two lines")

    monkeypatch.setattr("camsign.tags.bucks.bucks", broken)
    capsys.readouterr()
    assert run(["buck", "list"]) == FAULT
    out = capsys.readouterr()
    assert out.out == "" and len(out.err.strip().splitlines()) == 1
    for told in ("ZeroDivisionError: odd", "nothing that you noted is lost", "CAMSIGN_DEBUG=1"):
        assert told in out.err
    monkeypatch.setenv("CAMSIGN_DEBUG", "1")
    assert run(["buck", "list"]) == FAULT
    assert "Traceback" in capsys.readouterr().err


SMALL_DISK = """
import resource, sys
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
from camsign.cli.app import run
sys.exit(run(sys.argv[1:]))
"""


@pytest.mark.thorough
@pytest.mark.skipif(os.name == "nt", reason="no bound on the size of files there")
def test_a_disk_without_space_for_the_database_is_named_and_nothing_is_lost(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["buck", "add", "Burr"]) == 0
    shutil.rmtree(Folder(book).cache)
    command = [sys.executable, "-c", SMALL_DISK, "buck", "list"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == REFUSED, done.stderr
    (line,) = done.stderr.strip().splitlines()
    assert "full" in line and "free some space" in line and "nothing that you noted is lost" in line
    assert "{" not in line and "Error" not in line
    capsys.readouterr()
    assert run(["buck", "list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["rows"][0]["buck"] == "Burr"


def test_settings_that_changed_are_named_once(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["buck", "list"]) == 0
    assert "changed" not in capsys.readouterr().err
    file = book / "logbook.toml"
    text = file.read_text().replace("reach_m = 200 ", "reach_m = 350 ")
    file.write_text(text.replace('visit_gap = "30min"', "") + "# a remark\n")
    assert run(["buck", "list"]) == 0
    (line,) = capsys.readouterr().err.strip().splitlines()
    assert "reach_m 200 -> 350" in line and "visit_gap" not in line  # 30min is the usual
    assert run(["buck", "list"]) == 0
    assert capsys.readouterr().err == ""
    file.write_text(file.read_text() + "# another remark\n")
    assert run(["buck", "list"]) == 0
    assert capsys.readouterr().err == ""
