"""A command that lacks a word asks for it in plain words: the question, and what there is."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer

from camsign.cli.app import app, run
from camsign.cli.misused import _QUESTIONS
from camsign.errors import REFUSED, USAGE


@pytest.fixture
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    root = tmp_path / "book"
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(root))
    assert run(["init", str(root), "--home", "44.6,-71.2", "--json"]) == 0
    assert run(["buck", "add", "Old Quarrel"]) == 0
    assert run(["area", "add", "Brindle Knob", "--at", "44.6,-71.2", "--radius", "80yd"]) == 0
    hang = ["hang", "CAM01", "--at", "44.6,-71.2", "--from", "2025-08-10"]
    assert run(hang) == 0
    assert run(["place", "add", "stand", "Ledge Pine", "--at", "44.6,-71.2"]) == 0
    return root


def _told(words: list[str], said: pytest.CaptureFixture[str]) -> str:
    said.readouterr()
    assert run(words) == USAGE
    return said.readouterr().err


def test_what_is_missing_is_asked_for_with_the_names_there_are(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = {
        "when": 'which buck? One of "Old Quarrel"',
        "when|Old Quarrel": 'which area? One of "Brindle Knob"',
        "when|Brindle Knob": "which buck? Brindle Knob is an area; the buck comes first: camsign "
        "when BUCK AREA",
        "bedding": 'which area? One of "Brindle Knob"',
        "takedown": "which camera? One of CAM01",
        "sit|add": 'which stand? One of "Ledge Pine"',
        "hang|CAM07": "where? Add --at, such as --at 44.6204,-71.2350",
        "hang|CAM07|--at|44.6,-71.2": "from what day? Add --from, such as --from 2025-11-04",
        "hang|camera": "which camera? The camera's ID, such as CAM07",
        "buck|merge|Old Quarrel": 'which buck is he? One of "Old Quarrel"',
        "makers": "which piece of sign? A sign's id, or its beginning; `camsign sign list` has "
        "them",
        "area|add": 'what name? A name of your own, such as "Brindle Knob"',
    }
    for words, told in asked.items():
        assert _told(words.split("|"), capsys) == f"camsign: {told}\n"


def test_what_does_not_fit_is_told_with_an_example(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = {
        "buck|set|Old Quarrel|--age|old": "--age takes a number, such as 5.5",
        "visits|--season|last": "--season takes a whole number, such as 2025",
        "visits|--last|0": "--last must be 1 or more",
        "visits|--reach": "--reach needs a value after it",
        "near|Slim": "there is no buck and no area 'Slim'; list them with: camsign buck list, "
        "camsign area list",
        "near|Old Quarrel|Slim": "can't tell what 'Slim' belongs to; if it's a buck: --buck "
        '"Slim"; if an area: --area "Slim"',
        "who": "there is no command 'who'; nearest: camsign makers (Who likely made this rub or "
        "scrape?), camsign near (Who was pictured near which sign, while it was made?), camsign "
        "tag (Say who or what is in pictures)",
        "weather": "there is no command 'weather'; nearest: camsign wind (Winds kept in the "
        "logbook, by station and hour), camsign tonight (Which stand tonight, on which wind, by "
        "which way in, and the chance that he comes)",
        "compar": "there is no command 'compar'; nearest: camsign compare (Which area to sit?)",
        "xyzzy": "there is no command 'xyzzy'; list: camsign -h",
        "when|Old|Quarrel|Brindle Knob": "can't tell what 'Brindle Knob' belongs to; a name of "
        'several words goes in quotes, such as "Old Quarrel"',
        "area|add|Knob|--at|44.6,-71.2|--radius|80|yards": "can't tell what 'yards' belongs to; "
        "write it 80yd",
        "visits|--reach|200|m": "can't tell what 'm' belongs to; write it 200m",
    }
    for words, told in asked.items():
        assert _told(words.split("|"), capsys) == f"camsign: {told}\n"


def test_without_a_logbook_it_still_asks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("CAMSIGN_LOGBOOK", raising=False)
    assert _told(["where"], capsys) == "camsign: which buck? A buck's name or id\n"


def test_every_word_that_a_command_needs_has_its_question() -> None:
    def needed(command: object, context: typer.Context | None = None) -> set[str]:
        here = typer.Context(command, parent=context)  # type: ignore[arg-type]
        words: list[str] = getattr(command, "list_commands", lambda _: [])(here)
        if not words:
            return {p.name for p in command.params if p.required}  # type: ignore[attr-defined]
        found = (command.get_command(here, word) for word in words)  # type: ignore[attr-defined]
        return set().union(*(needed(one, here) for one in found))

    assert needed(typer.main.get_command(app)) <= _QUESTIONS.keys()


@pytest.mark.thorough
@pytest.mark.parametrize("words", ["import", "ingest"])
@pytest.mark.parametrize("inner", ["", "cards", "journal", "journal/one.jsonl"])
def test_a_friends_logbook_is_no_file_and_no_card(
    words: str, inner: str, book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    friend = tmp_path / "his woods"
    assert run(["init", str(friend), "--home", "44.6,-71.2", "--json"]) == 0
    (friend / "journal" / "one.jsonl").write_text('{"a": 1}\n{"a": 2}\n')
    capsys.readouterr()
    assert run([words, str(friend / inner)]) == REFUSED
    told = f'{friend} is a logbook; to add what it holds: camsign merge "{friend}"'
    assert told in capsys.readouterr().err
