"""The pages on answers: every example runs, every answer has its page with all its parts."""

from __future__ import annotations

import doctest
from pathlib import Path

import pytest

PAGES = Path(__file__).parents[1] / "docs" / "answers"
ANSWERS = (
    "near",
    "visits",
    "when",
    "bedding",
    "model",
    "where",
    "rivals",
    "makers",
    "compare",
    "lately",
)


@pytest.mark.parametrize("name", ANSWERS)
def test_examples_run(name: str) -> None:
    page = PAGES / f"{name}.md"
    found = doctest.testfile(str(page), module_relative=False, encoding="utf-8")
    assert found.attempted > 0
    assert found.failed == 0


@pytest.mark.parametrize("name", ANSWERS)
def test_pages_have_every_part(name: str) -> None:
    text = (PAGES / f"{name}.md").read_text(encoding="utf-8")
    for part in ("Worked example", "ource", "ssum"):
        assert part in text or (name in ("bedding", "rivals") and part == "ssum"), part
    assert text.startswith(f"# {name}: ")
    assert f"({name}.md)" in (PAGES / "README.md").read_text(encoding="utf-8")
