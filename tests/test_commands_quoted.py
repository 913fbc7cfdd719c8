"""Commands that camsign prints: split as a shell splits them, each name is one word again."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from derive_world import Shot, book, hang, put_card, rows, say
from hypothesis import example, given
from hypothesis import strategies as st
from test_derive_cards_in_turns import shots

from camsign.cli.app import run
from camsign.clock.verbs import audit
from camsign.derive.conflicts import Drawn, drawn_remedy
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError, quoted
from camsign.logbook.things import schema
from camsign.places.deployments import hang as hang_up
from camsign.units import parse_when

ODD = ["""Bob's "Big" cam""", "North Ridge", "Oak$1", "CAM(2)"]
NAMES = st.text(st.characters(exclude_categories=("C", "Z")) | st.just(" "), min_size=1)


@given(NAMES)
@example('"')
@example("'")
@example("back\\slash\\")
@example("two\\\\slashes")
@example("$HOME `ls` !")
def test_a_shell_reads_a_quoted_name_as_one_word(name: str) -> None:
    assert shlex.split(quoted(name)) == [name]


def test_only_what_needs_quotes_has_them_and_a_plain_pair_serves_every_shell() -> None:
    assert [quoted(name) for name in ("CAM01", "d-12ab", "cards/k1.jpg", "C:\\cards")] == [
        "CAM01", "d-12ab", "cards/k1.jpg", '"C:\\cards"',
    ]  # fmt: skip
    assert [quoted(name) for name in ("North Ridge", "Bob's", "")] == [
        '"North Ridge"',
        '"Bob\'s"',
        '""',
    ]


@given(st.lists(NAMES, min_size=1, max_size=20))
@example([*ODD, '"', "'", "\\", "a\\", "é", "a\\\\b"])
def test_the_database_quotes_as_python_does(names: list[str]) -> None:
    import duckdb

    con = duckdb.connect()
    con.execute(schema())
    found = con.execute("SELECT quoted(n) FROM (SELECT unnest(?::VARCHAR[]) AS n)", [names])
    assert [word for (word,) in found.fetchall()] == [quoted(name) for name in names]


def commands(text: str | None) -> list[list[str]]:
    """The words of each command in a line; what is said behind it is cut."""
    assert text is not None
    begun = re.split(r"camsign (?=[a-z])", text)[1:]
    return [shlex.split(re.split(r"\. [A-Z]|, or |$", one)[0].rstrip(".)")) for one in begun]


def _same_words(found: list[list[str]], camera: str) -> None:
    assert found and any(camera in words for words in found)
    known = {camera, "--on", "DAY", "--camera", "ID", "CARD"}
    assert not [w for words in found for w in words if w not in known and w in camera.split()]


@pytest.mark.parametrize("camera", ODD)
def test_the_command_for_an_odd_offset_runs_as_it_is_printed(
    tmp_path: Path, camera: str, capsys: pytest.CaptureFixture[str]
) -> None:
    home = book(tmp_path / "book")
    taken = [Shot(f"2025-12-{d:02d}T08:00:00", offset_minutes=480) for d in range(2, 9)]
    put_card(home, "k", camera, taken)
    say(home, hang(camera, "2025-09-01T00:00:00Z", id="d-1"))
    doubts = "SELECT DISTINCT doubt FROM frame_times"
    ((doubt,),) = rows(home, doubts)
    ((*words,),) = commands(doubt)
    with open_logbook(home) as session:
        (found,) = audit(session)
    assert "7 pictures state an offset from UTC that the place doesn't have" in found.why
    assert commands(found.remedy) == [words]
    assert run(["--logbook", str(home.root), *words]) == 0, capsys.readouterr().err
    assert rows(home, doubts) == [(None,)]
    with open_logbook(home) as session:
        (found,) = audit(session)
    assert "offset" not in found.why and not found.remedy


@pytest.mark.parametrize("camera", ODD)
def test_the_commands_that_settle_two_words_name_the_camera_whole(
    tmp_path: Path, camera: str
) -> None:
    home = book(tmp_path / "book")
    put_card(home, "k1", camera, shots(1, 0))
    put_card(home, "k2", camera, shots(1, 3))
    say(home, hang(camera, "2025-09-30T15:00:00Z", id="d-1"))
    say(home, hang(camera, "2025-10-05T15:00:00Z", id="d-2", at=(44.103, -71.2)))
    told = dict(rows(home, "SELECT kind, remedy FROM conflicts"))
    assert set(told) == {"cards in turns", "two places"}
    for remedy in told.values():
        _same_words(commands(remedy), camera)


@pytest.mark.parametrize("camera", ODD)
def test_a_refused_hang_names_the_camera_whole(tmp_path: Path, camera: str) -> None:
    home = book(tmp_path / "book")
    say(home, hang(camera, "2025-09-30T15:00:00Z", id="d-1"))
    with open_logbook(home) as session, pytest.raises(UsageError) as refused:
        hang_up(session, camera, (44.2, -71.2), parse_when("2025-10-05"))
    _same_words(commands(refused.value.remedy), camera)


def test_an_area_drawn_twice_is_named_whole() -> None:
    bench = Drawn("a-2", 'The "Bench"', "bedding", 44.1, -71.2, 50.0, "bob", "1", "")
    assert ["area", "rename", "a-2", 'The "Bench"'] in commands(drawn_remedy(bench))
