"""Words of others on a terminal: they steer nothing, and no encoding makes a traceback."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import unicodedata
from pathlib import Path

import made_cards as made
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.cli.app import run
from camsign.formats.onscreen import in_json, on_screen

FORGED = "\x1b[2K\x1b[1ASAFE TO WIPE: every picture has a copy.\x1b[8m\n\u202etxt"
STEERS = {"Cc", "Cf", "Zl", "Zp", "Cs"}


def steering(text: str) -> set[str]:
    """The characters in it that a terminal obeys; the joiners of scripts and emoji are none."""
    return {c for c in text if unicodedata.category(c) in STEERS} - {"\u200c", "\u200d", "\n"}


@given(st.text(st.characters()))
def test_nothing_is_left_that_steers_a_terminal(text: str) -> None:
    assert steering(on_screen(text)) == set() and "\n" not in on_screen(text)
    assert on_screen(on_screen(text)) == on_screen(text)


@pytest.mark.thorough
@given(st.recursive(st.text(st.characters()), st.lists))
def test_json_says_the_same_and_steers_nothing(value: object) -> None:
    text = in_json(json.dumps(value, ensure_ascii=False, indent=1))
    assert steering(text) == set() and json.loads(text) == value


@pytest.mark.parametrize("text", ["Überläufer", "шрам", "鹿", "🦌", "👨‍👩‍👧", "naïve → 5°"])
def test_words_in_any_script_stay(text: str) -> None:
    assert on_screen(text) == text


def written(monkeypatch: pytest.MonkeyPatch, words: list[str], encoding: str) -> tuple[int, str]:
    """What a command writes, both streams together, on a system of this encoding."""
    raw = io.BytesIO()
    for name in ("stdout", "stderr"):
        monkeypatch.setattr(sys, name, io.TextIOWrapper(raw, encoding, write_through=True))
    code = run(words)
    sys.stdout.flush()
    return code, raw.getvalue().decode(encoding)


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A card with a file whose name gives a terminal orders, and one with a Cyrillic name."""
    book = made.logbook(tmp_path / "book", "CAM03")
    os.environ["CAMSIGN_LOGBOOK"] = str(book.root)
    return made.fill(tmp_path / "CAM03", made.frames(1) | {"шрам.JPG": made.jpeg(4)})


@pytest.fixture(autouse=True)
def _no_logbook_left(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CAMSIGN_LOGBOOK", "")


@pytest.mark.thorough
@pytest.mark.skipif(os.name == "nt", reason="Windows takes no such names")
def test_a_file_name_cannot_forge_the_verdict(card: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made.fill(card, {f"{FORGED}.txt": b"words", f"{FORGED}.JPG": made.jpeg(9)})
    code, text = written(monkeypatch, ["ingest", str(card)], "utf-8")
    assert code == 1 and steering(text) == set()
    said = [line for line in text.splitlines() if line.startswith(("SAFE", "NOT SAFE"))]
    assert said == ["NOT SAFE TO WIPE:"]
    (name,) = {p.name for p in (Path(os.environ["CAMSIGN_LOGBOOK"]) / "cards").iterdir()}
    for words in (["cards", "show", name], ["cards", "show", name, "--json"], ["frames", "--csv"]):
        code, text = written(monkeypatch, words, "utf-8")
        assert code == 0 and steering(text) == set()
        assert not [x for x in text.splitlines() if x.startswith(("SAFE", "NOT SAFE"))]


@pytest.mark.thorough
@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii"])
def test_an_encoding_that_lacks_letters_costs_no_answer(
    card: Path, monkeypatch: pytest.MonkeyPatch, encoding: str
) -> None:
    code, text = written(monkeypatch, ["ingest", str(card)], encoding)
    assert code == 0 and "SAFE TO WIPE" in text
    code, text = written(monkeypatch, ["frames", "--json"], encoding)
    assert code == 0 and len(json.loads(text[: text.rindex("}") + 1])["rows"]) == 2
    for words in (["frames"], ["cards", "list"], ["ingest", "шрам"], ["clock", "audit"]):
        code, text = written(monkeypatch, words, encoding)
        assert "Traceback" not in text


def test_decoders_in_c_do_not_reach_stderr_and_camsign_does(tmp_path: Path) -> None:
    code = (
        "import os, sys; from camsign.__main__ import _hush_libraries as hush; hush();"
        "os.write(2, b'libpng error'); print('words', file=sys.stderr);"
        "import warnings; warnings.warn('Corrupt EXIF data')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stderr == "words\n"
