"""Names as hunters give them on a handheld, and what each must become: fixtures/field/names.csv.

What each must become was written down by hand, by the rules of docs/sign.md, before it was read.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camsign.flows.fieldwork.kindwords import Asked
from camsign.flows.fieldwork.shorthand import Shorthand, SpotDraft
from camsign.flows.fieldwork.signwords import SignDraft
from camsign.logbook.settings import Settings
from camsign.logbook.things import AREA_KINDS, PLACE_KINDS
from camsign.units import parse_length

FILE = Path(__file__).resolve().parents[1] / "fixtures" / "field" / "names.csv"
ROWS = list(csv.DictReader(FILE.open(encoding="utf-8")))
READER = Shorthand(Settings(id="x", tz="UTC"))
LEAST = 0.98


def expected(row: dict[str, str]) -> tuple[str, float | None, set[str]]:
    kind = row["is"]
    going = float(row["going"]) if row["going"] else None
    return kind, going, {_said(word) for word in row["says"].split()}


def _said(word: str) -> str:
    name, _, value = word.partition("=")
    if not value or name == "name" or name in ("side", "marks", "damage"):
        return word.replace("~", " ")
    if value[-1].isdigit():
        return f"{name}={float(value):g}"
    return f"{name}={parse_length(value, 'in'):.3f}"


def read(row: dict[str, str]) -> tuple[str, float | None, set[str]]:
    try:
        draft = READER.read(row["name"], row["also"])
    except ValueError as e:
        return str(e), None, set()
    if draft is None:
        return "nothing", None, set()
    if isinstance(draft, Asked):
        return f"ask {draft.guess}", None, set()
    if isinstance(draft, SignDraft):
        return draft.kind, _going(draft), set(_of_sign(draft))
    said = {f"name={draft.name}"}
    if draft.kind == "camera":
        return "camera", None, said | ({f"facing={draft.facing.deg:g}"} if draft.facing else set())
    if draft.kind in AREA_KINDS and draft.radius_m:
        said.add(f"radius={draft.radius_m:.3f}")
    assert isinstance(draft, SpotDraft) and draft.kind in (*AREA_KINDS, *PLACE_KINDS)
    return draft.kind, None, said


def _going(draft: SignDraft) -> float | None:
    if draft.heading is None:
        return None
    return (draft.heading.bearing.deg + 180 * draft.heading.bare) % 360


def _of_sign(draft: SignDraft) -> list[str]:
    said = [w for w in (draft.species, draft.state) if w]
    for name, value in draft.measures.items():
        said.append(_measure(name, value))
    return said


def _measure(name: str, value: Any) -> str:
    if value is True:
        return name
    if isinstance(value, list):
        return f"{name}={','.join(value)}"
    if name.endswith("_m"):
        return f"{name.removesuffix('_m')}={value:.3f}"
    return f"{name.removesuffix('_deg')}={value:g}"


def agrees(row: dict[str, str]) -> bool:
    kind, going, says = read(row)
    wanted = expected(row)
    if kind in ("stand", "way in", "water", "food", "camera", "parking", *AREA_KINDS) and not any(
        word.startswith("name=") for word in wanted[2]
    ):
        says = {word for word in says if not word.startswith("name=")}
    return (kind, going, says) == wanted


def test_there_are_300_and_each_is_another() -> None:
    assert len({(row["name"], row["also"]) for row in ROWS}) == len(ROWS) >= 300


def test_98_in_100_are_read_right_and_every_miss_is_named() -> None:
    misses = [
        f"{row['name']!r}: {read(row)}, not {expected(row)}" for row in ROWS if not agrees(row)
    ]
    assert len(misses) <= (1 - LEAST) * len(ROWS), "\n".join(misses)


@pytest.mark.parametrize("row", [r for r in ROWS if r["is"] == "rub"], ids=lambda r: r["name"])
def test_no_rub_is_read_the_wrong_way_round(row: dict[str, str]) -> None:
    """Not even one: unread is allowed, another way is not."""
    assert read(row)[1] in (expected(row)[1], None)


def test_a_place_of_the_map_never_becomes_sign_unasked() -> None:
    asked = [row for row in ROWS if row["is"].startswith("ask")]
    assert [row["name"] for row in asked if not read(row)[0].startswith("ask")] == []


SAID = ("NE", "going NE", "from SW", "facing SW", "bare SW", "on SW side of tree", "SW side",
        "heading 45", "northeast", "facing south-west", "45°", "side: SW", "NE bound")  # fmt: skip
OTHER = ("alder", "black cherry", "2in", "3 in thick", "top 38in", "bottom 12in", "fresh", "old",
         "shaved", "nicks", "snow 8in", "tine 50in", "2025-10-04", "48in high")  # fmt: skip


@given(st.sampled_from(SAID), st.lists(st.sampled_from(OTHER), max_size=4, unique=True),
       st.integers(0, 4))  # fmt: skip
def test_the_words_around_it_never_turn_a_way_around(way: str, others: list[str], at: int) -> None:
    """All of SAID mean north-east, wherever they stand; what cannot be said of a rub is told."""
    words = ["rub", *others[:at], way, *others[at:]]
    going = read({"name": " ".join(words), "also": ""})[1]
    assert going in (45.0, None)
    if not any(w in ("alder", "black cherry") for w in others):
        assert going == 45.0, words
