"""Tags from the terminal: what is said of undo, and options that would be ignored are refused."""

from __future__ import annotations

from pathlib import Path

import pytest
from derive_world import Shot, book, hang, put_card, rows, say

from camsign.cli import app
from camsign.errors import quoted
from camsign.logbook.folder import Folder


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    made = book(tmp_path / "book")
    put_card(made, "k", "CAM1", [Shot(f"2025-10-0{d}T07:00:00") for d in range(1, 5)])
    say(made, hang("CAM1", "2025-09-30T15:00:00Z"))
    return made


@pytest.fixture(autouse=True)
def _here(home: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(home.root))


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    capsys.readouterr()
    code = app.run(list(words))
    return code, capsys.readouterr().out


@pytest.mark.thorough
def test_undo_is_offered_only_where_something_was_said(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    frame = rows(home, "SELECT min(frame) FROM frames")[0][0]
    for words in (("tag", "doe", "3f9c2a17b04e"), ("untag", "3f9c2a17b04e")):
        code, out = run(capsys, *words)
        assert code == 3 and "undo" not in out
    code, out = run(capsys, "tag", "doe", frame)
    assert code == 0 and "camsign undo takes it back" in out


def test_a_second_buck_on_a_picture_is_told_with_how_to_take_the_first_off(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    one, other = (f for (f,) in rows(home, "SELECT frame FROM frames ORDER BY frame LIMIT 2"))
    for name in ("Fork Tine", "Gap"):
        run(capsys, "buck", "add", name)
    assert "Now" not in run(capsys, "tag", "Fork Tine", one)[1]
    out = run(capsys, "tag", "Gap", one, other)[1]
    assert "Now Fork Tine and Gap are both on 1 picture." in out
    assert f"camsign untag ID --subject {quoted('Fork Tine')} takes him off" in out
    assert "Now" not in run(capsys, "tag", "doe", one)[1]
    run(capsys, "untag", one, "--subject", "Fork Tine")
    bare = rows(home, "SELECT frame FROM frames ORDER BY frame DESC LIMIT 1")[0][0]
    acts = rows(home, "SELECT count(*) FROM acts")
    for words in ((one, "--subject", "Fork Tine"), (bare,)):  # it is no act to take off nothing
        code, out = run(capsys, "untag", *words)
        assert code == 0 and "nothing was changed" in out and "undo" not in out
    assert rows(home, "SELECT count(*) FROM acts") == acts
    assert "Now" not in run(capsys, "tag", "Gap", one)[1]


@pytest.mark.thorough
def test_a_handheld_file_known_already_offers_no_undo(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "handheld.gpx"
    file.write_text(
        '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="44.1" lon="-71.2">'
        "<time>2025-10-01T12:00:00Z</time><name>rub</name></wpt></gpx>"
    )
    assert "undo" in run(capsys, "import", str(file), "--yes", "--on", "2025-10-01")[1]
    code, out = run(capsys, "import", str(file), "--yes", "--on", "2025-10-01")
    assert code == 0 and "Nothing new: it is in already." in out and "undo" not in out


@pytest.mark.thorough
@pytest.mark.parametrize(
    "words",
    [
        ("tag", "nothing", "FRAME", "--from", "2025-09-01", "--to", "2025-09-02"),
        ("tag", "nothing", "--camera", "CAM1", "--burst"),
        ("untag", "FRAME", "--from", "2025-09-01"),
        ("tag", "doe", "FRAME", "--camera", "CAM1"),
        ("look", "--from", "2025-09-01"),
    ],
)
def test_options_that_would_be_ignored_are_refused(
    home: Folder, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    frame = rows(home, "SELECT min(frame) FROM frames")[0][0]
    code, _ = run(capsys, *(frame if w == "FRAME" else w for w in words))
    assert code == 2
    assert rows(home, "SELECT count(*) FROM tags") == [(0,)]


def test_a_table_says_what_it_would_do_before_it_is_taken(
    home: Folder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    frames = [f for (f,) in rows(home, "SELECT frame FROM frames ORDER BY frame")]
    file = tmp_path / "tags.csv"
    file.write_text("frame,what\n" + "\n".join(f"{f},doe" for f in frames))
    code, out = run(capsys, "tag", "import", str(file))
    assert code == 0 and out.startswith("tags.csv: 4 new tags, 0 known already.") and "undo" in out
    code, out = run(capsys, "tag", "import", str(file))
    assert (
        code == 0 and out.startswith("tags.csv: 0 new tags, 4 known already.") and "undo" not in out
    )


def test_the_season_of_an_age_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "buck", "add", "Gap")
    code, out = run(
        capsys, "buck", "set", "Gap", "--age-low", "3.5", "--age-high", "5.5", "--basis", "body",
        "--season", "2024",
    )  # fmt: skip
    assert code == 0 and "season 2024" in out


@pytest.mark.thorough
@pytest.mark.parametrize("yes", [True, False])
def test_a_person_is_asked_whether_a_name_is_a_new_buck(
    home: Folder, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, yes: bool
) -> None:
    frame = rows(home, "SELECT min(frame) FROM frames")[0][0]
    asked: list[str] = []
    monkeypatch.setattr("typer.confirm", lambda words, default: asked.append(words) or yes)
    # Nobody is asked where nobody sits: a script's mistyped name is refused.
    assert run(capsys, "tag", "Gap", frame)[0] == 2 and asked == []
    monkeypatch.setattr("camsign.cli.tagging._at_a_terminal", lambda: True)
    code, out = run(capsys, "tag", "Gap", frame)
    assert len(asked) == 1 and asked[0].endswith("Is Gap a new buck?")
    assert (code, "tagged: Gap" in out) == ((0, True) if yes else (2, False))
    names = [name for (name,) in rows(home, "SELECT name FROM bucks_now")]
    assert names == (["Gap"] if yes else [])
    run(capsys, "tag", "doe", frame)
    assert len(asked) == 1  # a word is no name


def test_a_buck_named_first_is_not_untagged_with_all_others(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert app.run(["untag", "Old Quarrel", "0123456789abcdef"]) == 2
    err = capsys.readouterr().err
    assert "isn't a picture's id, and nothing was changed" in err
    assert 'camsign untag ID --subject "Old Quarrel"' in err


def test_days_that_run_backward_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert app.run(["frames", "--from", "2025-10-01", "--to", "2025-09-01"]) == 2
    err = capsys.readouterr().err
    assert "the days run backward, from Oct 1, 2025 to Sep 1, 2025" in err


def test_lines_left_out_for_one_reason_are_said_at_once(
    home: Folder, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A table of all cards filled the screen beside a logbook with two of them."""
    frame = rows(home, "SELECT min(frame) FROM frames")[0][0]
    file = tmp_path / "tags.csv"
    strangers = [f"{n:016x}" for n in range(1, 1202)]
    file.write_text("frame,what\n" + "\n".join(f"{f},doe" for f in (frame, *strangers)))
    capsys.readouterr()
    code = app.run(["tag", "import", str(file)])
    out, err = capsys.readouterr()
    assert code == 1 and "1 new tag, 0 known already, 1,201 lines left out." in out
    assert err.count("no such picture") == 1
    assert "1,201 left out: no such picture in this logbook; the first is 0000000000000001" in err


def test_a_batch_over_pictures_tagged_otherwise_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "buck", "add", "Fork Tine")
    run(capsys, "tag", "Fork Tine", "--camera", "CAM1", "--to", "2025-10-02")
    run(capsys, "tag", "coyote", "--camera", "CAM1", "--from", "2025-10-04")
    _, out = run(capsys, "tag", "doe", "--camera", "CAM1")
    assert "Now Fork Tine and doe are both on 2 pictures." in out
    run(capsys, "undo")
    _, out = run(capsys, "tag", "nothing", "--camera", "CAM1")
    assert "That takes the other tags off 3 pictures, Fork Tine too." in out
    run(capsys, "undo")
    _, out = run(capsys, "tag", "nothing", "--camera", "CAM1", "--from", "2025-10-03")
    assert "off 1 picture." in out


def test_a_name_much_like_another_bucks_is_asked_about(capsys: pytest.CaptureFixture[str]) -> None:
    assert "also" not in run(capsys, "buck", "add", "Old Quarrel")[1]
    assert "also" not in run(capsys, "buck", "add", "Gap")[1]
    assert "You also have Old Quarrel. Same buck?" in run(capsys, "buck", "add", "old quarel")[1]


def test_an_end_before_his_last_picture_is_asked_about(capsys: pytest.CaptureFixture[str]) -> None:
    run(capsys, "buck", "add", "Gap")
    run(capsys, "tag", "Gap", "--camera", "CAM1")
    _, out = run(capsys, "buck", "set", "Gap", "--ended", "shot 2024-11-22")
    assert "You have him in pictures up to Oct 4" in out and "Is the date right?" in out
    _, out = run(capsys, "buck", "set", "Gap", "--ended", "shot 2025-10-04")
    assert "Is the date right?" not in out


def test_a_buck_who_ended_is_listed_as_gone(capsys: pytest.CaptureFixture[str]) -> None:
    """He was listed as mature, a year older each season."""
    aged = ("--age", "5.5", "--basis", "body", "--season", "2024")
    run(capsys, "buck", "add", "Old Sorrel", *aged)
    run(capsys, "buck", "set", "Old Sorrel", "--ended", "shot 2025-11-22")
    assert "gone: shot Nov 22" in run(capsys, "buck", "list")[1]
