"""Every answer in the terminal tells of tagged pictures that it can't count: a slip shows there."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest
from derive_world import Shot, book, hang, put_card, say

from camsign.cli import app
from camsign.derive.opening import open_logbook
from camsign.logbook import history
from camsign.logbook.edits import SetFields, TakeBack
from camsign.logbook.folder import Folder
from camsign.page.spans import span_of

TOLD = "in no answer: CAM1 hung nowhere on those dates"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    """Fork on ten pictures of CAM1, which hangs in reach of the Bench; a person on another."""
    made = book(tmp_path / "book")
    shots = [Shot(f"2025-10-{d:02d}T07:00:00") for d in range(1, 12)]
    frames = put_card(made, "k", "CAM1", shots)
    circle = {"name": "Bench", "kind": "bedding", "shape": {"circle": [44.1, -71.2, 60.0]}}
    say(made, hang("CAM1", "2025-09-30T15:00:00Z"), SetFields("area", "a-1", circle))
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(made.root))
    assert app.run(["buck", "add", "Fork"]) == 0
    assert app.run(["tag", "Fork", *frames[:10]]) == 0
    assert app.run(["tag", "person", frames[10]]) == 0
    return made


def asked(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    capsys.readouterr()
    app.run(list(words))
    return capsys.readouterr().err


@pytest.mark.parametrize("answer", [("visits",), ("bedding", "Bench"), ("compare",)])
def test_pictures_from_outside_a_hang_are_told(
    home: Folder, capsys: pytest.CaptureFixture[str], answer: tuple[str, ...]
) -> None:
    assert "no answer" not in asked(capsys, *answer)
    act = say(home, hang("CAM1", "2025-09-30T15:00:00Z", "2025-10-05T04:00:00Z"))
    err = asked(capsys, *answer)
    assert f"6 tagged pictures count {TOLD}" in err
    assert "camsign clock audit CAM1" in err
    say(home, TakeBack([act]))
    assert "no answer" not in asked(capsys, *answer)


def test_a_newer_season_of_which_nothing_is_tagged_is_told(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    newer = "you loaded pictures of season 2026 and tagged no animal in them yet: answers are about"
    shots = [Shot("2026-07-02T07:00:00")]
    (frame,) = put_card(home, "k2", "CAM1", shots, "2026-07-03T12:00:00Z")
    for words in (("compare",), ("bedding", "Bench"), ("visits", "--json")):
        assert newer in asked(capsys, *words)
    with open_logbook(home) as session:
        spans = [
            span_of(SimpleNamespace(session=session, query={"season": s}))
            for s in ("", "2025", "2026")
        ]
    assert [(one.season, newer in one.untagged) for one in spans] == [
        (2025, True), (2025, False), (2026, False)
    ]  # fmt: skip
    assert app.run(["tag", "nothing", frame]) == 0
    assert newer in asked(capsys, "compare")
    assert app.run(["tag", "doe", frame]) == 0
    assert newer not in asked(capsys, "compare")


def test_pictures_of_a_buck_whose_adding_was_undone_are_told(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    acts = {a.what: a.act for a in _history(home)}
    app.run(["undo", acts["added buck Fork"]])
    err = asked(capsys, "visits")
    assert "10 pictures are tagged with a buck whose adding was undone" in err
    buck = err.split("camsign history ")[1].split(",")[0]
    capsys.readouterr()
    app.run(["history", buck])
    undone = next(line for line in capsys.readouterr().out.splitlines() if "undid" in line)
    app.run(["undo", undone.split()[0]])
    assert "undone" not in asked(capsys, "visits")


def _history(home: Folder) -> list[history.Act]:
    with open_logbook(home) as session:
        return history.history(session)


def test_a_card_whose_times_are_in_doubt_is_not_asked_for_again(
    home: Folder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The camera writes an offset from UTC that its place never has: all its pictures are in doubt.
    It said to load the card, which was loaded."""
    odd = book(home.root.parent / "odd")
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(odd.root))
    shots = [Shot(f"2025-10-{d:02d}T07:00:00", offset_minutes=480) for d in range(1, 12)]
    frames = put_card(odd, "k", "CAM1", shots)
    circle = {"name": "Bench", "kind": "bedding", "shape": {"circle": [44.1, -71.2, 60.0]}}
    say(odd, hang("CAM1", "2025-09-30T15:00:00Z"), SetFields("area", "a-1", circle))
    assert app.run(["tag", "doe", *frames]) == 0

    def out(*words: str) -> str:
        capsys.readouterr()
        app.run([*words, "--why"] if words[0] == "bedding" else list(words))
        return " ".join(capsys.readouterr().out.split())

    see = "camsign frames --camera CAM1 --doubtful"
    told = out("bedding", "Bench", "--from", "2025-10-01")
    assert "load the card" not in told
    assert "he pictures from CAM1 are in, but their times are in doubt" in told
    assert f"so their nights don't count. See: {see}" in told
    # The night of the day it was hung was covered.
    assert (
        f"first clear the times of the pictures from CAM1, which are in doubt (see: {see})"
        in out("bedding", "Bench")
    )
    clears = "camsign clock set CAM1 --utc-offset=-04:00"
    assert clears in out("frames", "--camera", "CAM1", "--doubtful", "--csv")
    assert app.run(clears.split()[1:]) == 0
    assert "in doubt" not in out("bedding", "Bench")
