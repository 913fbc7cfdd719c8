"""The terminal speaks as its readers do: days, hours, lengths, bearings, in the logbook's units."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_origin

import pytest
import reference
from page_land import book_in
from said import BARE_BEARING, ISO, TYPED, faults

from camsign.answers.result import Answer
from camsign.cli.app import run
from camsign.cli.command import _behind_colon

BUCK, AREA = "Split Brow", "Thorn Bench"
ELSEWHERE = {"sql", "lake visits", "lake when", "lake compare"}
"""They answer a program's question, or of no one logbook: nobody's units are known."""
ASKED: dict[str, tuple[str, ...]] = {
    "visits": ("--split", "month", "--why"),
    "when": (BUCK, AREA, "--why"),
    "bedding": (AREA, "--why"),
    "where": (BUCK, "--why"),
    "rivals": (AREA, "--why"),
    "makers": ("s-00000", "--why"),
    "compare": ("--why",),
    "lately": ("--to", "2025-10-30", "--why"),
    "near": (),
    "history": (),
    "deployments": (),
    "frames": (),
    "cards list": (),
    "cards moved": (),
    "clock audit": (),
    "clock list": (),
    "buck list": (),
    "buck show": (BUCK,),
    "area list": (),
    "area propose": (),
    "place list": (),
    "sign list": (),
    "sign lines": ("--doubtful",),
    "sit list": ("--why",),
    "sit pressure": (),
    "review": ("--why",),
    "hang-next": ("--why",),
    "sign alike": (),
    "habit list": (),
    "habit propose": (),
    "underlay list": (),
    "wind beds": (BUCK, AREA, "--why"),
    "tonight": ("--wind", "SW", "--mph", "6", "--on", "2025-10-12", "--why"),
}


@pytest.fixture(scope="module", params=["imperial", "metric"])
def told(request: Any, tmp_path_factory: Any) -> Iterator[tuple[str, list[str]]]:
    units: str = request.param
    root: Path = tmp_path_factory.mktemp(units)
    book_in(units, root / "book")
    return units, ["--logbook", str(root / "book")]


@pytest.mark.thorough
def test_no_answer_speaks_another_language(
    told: tuple[str, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    units, at = told
    found: dict[str, list[str]] = {}
    for name, words in ASKED.items():
        code = run([*at, *name.split(), *words])
        out = capsys.readouterr()
        assert code in (0, 1), (name, out.err)
        if wrong := faults(TYPED.sub("", out.out), units == "imperial"):
            found[name] = wrong
    assert found == {}


def test_every_command_that_answers_is_asked() -> None:
    answers = set()
    for words, command, _ in reference.commands():
        made = getattr(command.callback, "made", None)
        gives = made and (get_origin(made.gives) or made.gives)
        if made and (made.csv or (isinstance(gives, type) and issubclass(gives, Answer))):
            answers.add(words.split(" ", 1)[1])
    assert answers - ASKED.keys() - ELSEWHERE == set()


def test_no_help_names_a_bare_bearing() -> None:
    for words, command, context in reference.commands():
        text = command.get_help(context)
        wrong = [m[0] for rule in (BARE_BEARING, ISO) for m in rule.finditer(text)]
        assert wrong == [], words


def test_a_sentence_goes_on_small_behind_an_area_s_name_unless_with_a_name() -> None:
    assert _behind_colon("Can't tell yet: no card") == "can't tell yet: no card"
    assert _behind_colon("Probably no buck beds here.") == "probably no buck beds here."
    assert _behind_colon("Old Quarrel beds here.") == "Old Quarrel beds here."
