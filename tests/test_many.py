"""Several logbooks answer side by side; one buck known in two is linked, never merged."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from answers_world import World
from made_cards import card

import camsign
from camsign.answers.scope import EARLIEST, against, scope_of
from camsign.cli.app import run
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.flows.intake import ingest
from camsign.logbook.edits import TagFrames
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.places.areas import add_area
from camsign.places.deployments import hang
from camsign.tags.bucks import add_buck
from camsign.tags.links import unlink_buck
from camsign.tags.tagging import subject_of
from camsign.units import parse_when

AT = (44.20501, -71.40502)


def _property(root: Path, frames: int, area: str, *bucks: str) -> Folder:
    folder = create(root, "America/New_York", (44.2, -71.4), "imperial")
    with open_logbook(folder) as s:
        hang(s, "CAM07", AT, parse_when("2025-09-01"))
        add_area(s, "bedding", area, AT, 60.0)
        for buck in bucks:
            add_buck(s, buck)
    ingest(folder, [card(root.parent / f"card {root.name}", frames)], camera="CAM07")
    with open_logbook(folder) as s:
        shown = [f for (f,) in s.con.execute("SELECT frame FROM frames ORDER BY shown").fetchall()]
        s.say("tagged", [TagFrames(subject_of(s, bucks[0]), shown)])
    return folder


@pytest.fixture
def two(tmp_path: Path) -> tuple[Folder, Folder]:
    hollow = _property(tmp_path / "hollow", 4, "Brindle Knob", "Old Quarrel", "Ferrous")
    gore = _property(tmp_path / "gore", 6, "Brindle Knob", "Tall Nine")
    return hollow, gore


def _words(two: tuple[Folder, Folder], *words: str) -> list[str]:
    return ["--logbook", str(two[0].root), "--logbook", str(two[1].root), *words]


@pytest.mark.thorough
def test_answers_stand_side_by_side_and_a_linked_buck_is_found_by_either_name(
    two: tuple[Folder, Folder], capsys: pytest.CaptureFixture[str]
) -> None:
    def asked(*words: str) -> tuple[int, str, str]:
        code = run(_words(two, *words))
        out = capsys.readouterr()
        return code, out.out, out.err

    code, out, err = asked("visits", "--buck", "Old Quarrel", "--json")
    assert code == 0
    assert [row["property"] for row in json.loads(out)["rows"]] == ["hollow"]
    assert "gore: there is no buck 'Old Quarrel'" in err

    code, out, _ = asked("buck", "link", "Old Quarrel", "Tall Nine")
    assert code == 0
    assert "Old Quarrel of hollow is Tall Nine of gore" in out
    code, out, err = asked("visits", "--buck", "Old Quarrel", "--json")
    rows = {row["property"]: row["rows"] for row in json.loads(out)["rows"]}
    assert {p: {r["buck"] for r in found} for p, found in rows.items()} == {
        "hollow": {"Old Quarrel"}, "gore": {"Tall Nine"},
    }  # fmt: skip
    assert "no buck" not in err
    _, out, _ = asked("visits", "--csv")
    table = list(csv.DictReader(io.StringIO(out)))
    assert list(table[0])[:2] == ["property", "buck"]
    assert {r["property"] for r in table} == {"hollow", "gore"}
    code, out, _ = asked("rivals", "Brindle Knob")
    assert out.index("hollow\n") < out.index("gore\n")

    code, _, err = asked("when", "Nobody", "Brindle Knob")
    assert (code, err.count("no buck 'Nobody'")) == (2, 2)
    code, _, err = asked("history")
    assert code == 2
    assert "takes one logbook at a time" in err
    assert run(["--logbook", str(two[0].root), "buck", "link", "Old Quarrel", "x"]) == 2


@pytest.mark.thorough
def test_dataframes_of_several_logbooks(two: tuple[Folder, Folder], tmp_path: Path) -> None:
    books = camsign.open_many([folder.root for folder in two])
    books.link({"hollow": "Old Quarrel", "gore": "Tall Nine"})
    rows = books.visits("Tall Nine")
    assert list(rows.columns[:2]) == ["property", "buck"]
    assert dict(zip(rows["property"], rows["buck"], strict=True)) == {
        "hollow": "Old Quarrel", "gore": "Tall Nine",
    }  # fmt: skip
    assert rows.attrs["linked"] == [{"hollow": "Old Quarrel", "gore": "Tall Nine"}]
    assert rows.attrs["properties"]["gore"]["watch"]
    ferrous = books.visits("Ferrous")
    assert set(ferrous["property"]) == {"hollow"}
    assert "no buck 'Ferrous'" in ferrous.attrs["left_out"]["gore"]
    assert set(books.compare()["property"]) == {"hollow", "gore"}
    with pytest.raises(UsageError, match="no buck 'Nobody'"):
        books.when("Nobody", "Brindle Knob")
    with pytest.raises(UsageError, match="named twice"):
        camsign.open_many([two[0].root, two[0].root])
    books.export_lake(tmp_path / "lake")
    when = camsign.open_lake(tmp_path / "lake").when("Old Quarrel")
    assert set(when["buck"]) == {"Old Quarrel", "Tall Nine"}


def _do(folder: Folder, verb: Callable[[Session], Any]) -> Any:
    with open_logbook(folder) as session:
        return verb(session)


@pytest.mark.thorough
def test_a_link_is_a_line_in_each_journal_and_counts_from_either(
    two: tuple[Folder, Folder],
) -> None:
    books = camsign.open_many([folder.root for folder in two])
    books.link({"hollow": "Old Quarrel", "gore": "Tall Nine"})
    for folder in two:
        _do(folder, lambda s: s.con.execute("SELECT linked FROM bucks").fetchall())
        text = "".join(p.read_text("utf-8") for p in folder.journal.glob("*.jsonl"))
        assert text.count('"linked"') == 1
    books.link({"hollow": "Old Quarrel", "gore": "Tall Nine"})  # known already: nothing is said
    text = "".join(p.read_text("utf-8") for p in two[0].journal.glob("*.jsonl"))
    assert text.count('"linked"') == 1
    _do(two[0], lambda s: unlink_buck(s, "Old Quarrel"))
    assert len(books.known().linked()) == 1  # the other still says so
    _do(two[1], lambda s: unlink_buck(s, "Tall Nine"))
    assert books.known().linked() == []
    with pytest.raises(UsageError, match="linked to no buck"):
        _do(two[1], lambda s: unlink_buck(s, "Tall Nine"))


def test_seasons_before_are_one_word() -> None:
    session = World().session()
    this = scope_of(session, season=2025)
    other = against(session, this, "earlier")
    assert (other.first, other.last, other.season) == (EARLIEST, date(2025, 6, 30), None)
