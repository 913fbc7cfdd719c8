"""Results in a terminal: tables that fit it, paragraphs where none does, lines broken at words."""

from __future__ import annotations

import re
import sys
from collections import Counter

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from camsign.cli import show

HEAD = ("buck", "verdict", "days bedded (dawn and dusk covered)", "in")
ROWS = (("Old Quarrel (6.5)", "confirmed", "51 (39–66) of 113", 19), ("Twig (1.5)", "–", "12", 6))


def screen(monkeypatch: pytest.MonkeyPatch, columns: int | None) -> None:
    monkeypatch.setenv("COLUMNS", str(columns or 60))
    monkeypatch.setattr(sys.stdout, "isatty", lambda: columns is not None)


@pytest.mark.parametrize("columns", [70, 90, 120, None])
def test_a_table_keeps_every_cell_whole(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], columns: int | None
) -> None:
    screen(monkeypatch, columns)
    show.put_table(HEAD, ROWS)
    lines = re.sub(r"\x1b\[\d+m", "", capsys.readouterr().out).splitlines()  # bold on, off
    assert max(map(len, lines)) <= (columns or 160)
    for row in ROWS:
        assert any(all(str(cell) in line for cell in row) for line in lines)


HEADS = st.lists(st.text("abc", min_size=1, max_size=12), min_size=1, max_size=6).map(" ".join)


@example(["a wide head of many words"] * 6 + ["b"] * 6, 12, 160)
@example(["a", "a head that could be narrower", "number"] * 4, 6, None)
@given(
    st.lists(HEADS, min_size=2, max_size=12),
    st.integers(1, 24),
    st.sampled_from([None, 80, 120, 160, 161]),
)
def test_no_word_of_a_table_is_cut_off(heads: list[str], long: int, columns: int | None) -> None:
    """At 160 columns `1.2 (0.3–11.5)` was shown as `1.2 (0.3–11.`."""
    cells = ["9" * (1 + (long + i) % 24) for i in range(len(heads))]
    with pytest.MonkeyPatch.context() as patch:
        screen(patch, columns)
        written: list[str] = []
        patch.setattr(sys.stdout, "write", written.append)
        show.put_table(heads, [cells, cells])
    words = re.sub(r"\x1b\[\d+m", "", "".join(written)).split()
    assert Counter(w for w in words if w.isdigit()) == Counter(cells * 2)
    if columns is None:
        assert Counter(w for w in words if w.isalpha()) == Counter(" ".join(heads).split())


def test_where_no_table_fits_each_row_is_a_paragraph(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    screen(monkeypatch, 44)
    show.put_table(HEAD, ROWS)
    assert capsys.readouterr().out.splitlines() == [
        " Old Quarrel (6.5)",
        "   verdict: confirmed · days bedded (dawn",
        "   and dusk covered): 51 (39–66) of 113 ·",
        "   in: 19",
        " Twig (1.5)",  # and nothing is said of what nobody knows
        "   days bedded (dawn and dusk covered): 12 ·",
        "   in: 6",
    ]


def test_a_rank_stands_with_what_it_ranks(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    screen(monkeypatch, 20)
    show.put_table(("rank", "area", "evenings in 10"), [(1, "Spruce Shelf", "6 (0–10)")])
    assert capsys.readouterr().out.splitlines() == [
        " 1  Spruce Shelf", "   evenings in 10: 6", "   (0–10)",
    ]  # fmt: skip


@given(st.lists(st.text("abc ", min_size=1, max_size=12), min_size=1), st.integers(20, 60))
def test_lines_break_between_words_and_lose_none(words: list[str], columns: int) -> None:
    line = "  " + " ".join(" ".join(words).split())
    with pytest.MonkeyPatch.context() as patch:
        written: list[str] = []
        patch.setenv("COLUMNS", str(columns))
        patch.setattr(sys.stdout, "isatty", lambda: True)
        patch.setattr(sys.stdout, "write", written.append)
        show.say(line)
    lines = "".join(written).splitlines()
    assert " ".join(lines).split() == line.split()
    assert all(len(one) <= columns for one in lines)


def test_a_command_to_copy_is_never_broken(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    screen(monkeypatch, 30)
    line = "to say when it left: camsign takedown CAM03 --on 2025-12-05"
    show.say(line)
    assert capsys.readouterr().out == line + "\n"
