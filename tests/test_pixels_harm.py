"""No animal is hidden: what comes back, what cannot be judged, what was shown before."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import pytest
from derive_world import book, rows, say
from pixels_harm import SPOTS, Spot, flawed, spot
from pixels_world import fates, few, put_shots, rows_of, score_frames
from scenes import Deer, Shot, drawn

from camsign.cli.app import run
from camsign.derive.opening import open_logbook
from camsign.flows.intake.result import held_words
from camsign.logbook.edits import Subject, TagFrames
from camsign.logbook.folder import Folder
from camsign.pixels.changes import TOO_FEW, Change, Glanced, changes
from camsign.pixels.glance import pack
from camsign.pixels.scores import THRESHOLDS, Aside, score, set_aside
from camsign.pixels.stays_shown import SHOWN
from camsign.pixels.unfit import HAZE, Fitness, lying


def lost(shots: Sequence[Shot], found: Sequence[Change]) -> tuple[int, int]:
    """How many frames with an animal would go unseen, of how many."""
    fate = fates([shot.light for shot in shots], found)
    animals = [f for f, shot in zip(fate, shots, strict=True) if shot.animal]
    return animals.count("aside"), len(animals)


@pytest.mark.parametrize(
    ("seed", "about"),
    [
        (2004, SPOTS["bedded, 10 of 50"]),
        pytest.param(2002, Spot(0.94, 0.001, 3, True), marks=pytest.mark.thorough),
        pytest.param(2003, Spot(0.3, 0.002), marks=pytest.mark.thorough),
    ],
)
def test_an_animal_that_comes_back_to_one_spot_is_never_set_aside(seed: int, about: Spot) -> None:
    shots = list(spot(seed, about, n=36))
    found = rows_of(shots)
    hidden, animals = lost(shots, found)
    assert animals >= 15
    assert hidden == 0
    if about.often < 0.5:  # then it holds none of the empties
        empties = [r for r, shot in zip(found, shots, strict=True) if not shot.animal]
        go = fates(["infrared"] * len(empties), empties)
        assert go.count("held") + go.count("shown") <= 0.1 * len(go)


def test_a_deer_at_one_spot_before_real_leaves_is_not_set_aside(samples: Path) -> None:
    # OpenCV's sample of leaves in the wind, there and back, with a drawn deer in 7 of 35 bursts.
    files = sorted((samples / "sequences" / "tree").glob("*.jpg"))[:53]
    leaves = [cv2.imread(str(path), cv2.IMREAD_GRAYSCALE) for path in files]
    leaves = (leaves + leaves[::-1])[:105]
    coat, cover, _ = drawn(Deer(0.176, 0.705, 0.879, 1, 0.2, bedded=True), *leaves[0].shape)
    shows = {8, 13, 17, 19, 24, 29, 32}
    frames = []
    for i, gray in enumerate(leaves):
        if i // 3 in shows:
            body = (float(gray[cover > 0.5].mean()) + 33.6) * (0.82 + 0.36 * coat)
            gray = np.clip(gray * (1 - cover) + body * cover, 0, 255).astype(np.uint8)
        frames.append(Glanced(str(i), i // 3 * 3600.0 + i % 3, str(i // 3), pack(gray)))
    found = changes(frames)
    fate = fates(["colour"] * len(frames), found)
    assert all(found[i].comes_back for i in range(len(frames)) if i // 3 in shows)
    assert not [f for i, f in enumerate(fate) if f in ("aside", "sheet") and i // 3 in shows]


def test_a_burst_of_which_one_frame_shows_something_stays_whole() -> None:
    # A small deer in the wind, of which a frame or two of three are news.
    shots = few(97_206, 24, kind="windy", animals=0.4)
    rows = rows_of(shots)
    fate = fates([shot.light for shot in shots], rows)
    own = [
        row.own is not None and row.own < THRESHOLDS[s.light]
        for s, row in zip(shots, rows, strict=True)
    ]
    torn = 0
    for burst in {shot.burst for shot in shots}:
        mine = [i for i, shot in enumerate(shots) if shot.burst == burst]
        assert len({rows[i].news for i in mine}) == 1
        assert len({fate[i] == "aside" for i in mine}) == 1
        torn += 0 < sum(own[i] for i in mine) < len(mine)
    assert torn >= 3


@pytest.mark.parametrize(
    "flaw",
    [
        "fog",
        "black",
        *(pytest.param(f, marks=pytest.mark.thorough) for f in ("noise", "underexposed", "haze")),
    ],
)
def test_what_cannot_be_judged_says_why_and_is_not_set_aside(flaw: str) -> None:
    some = list(flawed(2100 + len(flaw), flaw, "infrared", 0.3, n=24))
    found = rows_of([shot for shot, _ in some])
    bad = [row for row, (_, has) in zip(found, some, strict=True) if has]
    words = {"fog": "fog or haze", "haze": "fog or haze", "noise": "noise"}
    assert len(bad) >= 9
    assert {row.cant_judge for row in bad} == {words.get(flaw, "too dark")}
    assert all(row.news is None for row in bad)


def test_snow_that_lies_is_not_taken_for_fog() -> None:
    day, cells = 86400.0, np.zeros((6, 8), np.float32)
    dark, lifted = (Fitness(low, 200, 0.0, cells) for low in (50, 110))
    clear = [(k * day / 3, None, dark) for k in range(6)]
    haze = [((2 + k / 20) * day, HAZE, dark) for k in range(5)]  # on one evening
    snow = [((3 + k / 3) * day, HAZE, dark) for k in range(5)]
    snow.insert(2, (3.5 * day, HAZE, lifted))  # fog over snow
    melted = [(5 * day, None, dark)]
    fog = [((6 + k) * day, HAZE, lifted) for k in range(6)]
    seen = [*clear, *haze, clear[0], *snow, *melted, *fog]
    start = len(clear) + len(haze) + 1
    assert lying(seen, 45.0) == {start + k for k in (0, 1, 3, 4, 5)}
    assert lying([], 45.0) == set()


@pytest.mark.thorough
def test_a_black_card_is_named_and_nothing_of_it_is_set_aside(tmp_path: Path) -> None:
    folder = book(tmp_path / "book")
    shots = [shot for shot, _ in flawed(2200, "black", "infrared", 1.0, n=12)]
    put_shots(folder, "c1", "CAM01", shots)
    (found,) = scored(folder)
    assert (found.likely_empty, found.look_first) == (0, 0)
    assert found.cant_judge == {"too dark": len(shots)}
    told = " | ".join(held_words([found]))
    empty = f"Can't tell if {len(shots)} pictures are empty"
    assert f"{empty}: {len(shots)} too dark" in told
    assert "check its lamp, lens, batteries" in told


def scored(folder: Folder) -> list[Aside]:
    with open_logbook(folder) as session:
        score_frames(session)
        return set_aside(session)


def test_a_card_most_of_which_would_go_at_once_waits_for_a_look(tmp_path: Path) -> None:
    folder = book(tmp_path / "book")
    shots = [s for s in few(81, 24, animals=0) if s.light == "infrared"]
    put_shots(folder, "c1", "CAM01", shots)
    (found,) = scored(folder)
    assert found.likely_empty == 0
    assert found.look_first > 3 * len(shots) / 4
    assert (
        f"{found.look_first} pictures look empty but wait for your check" in held_words([found])[0]
    )


@pytest.mark.thorough
def test_what_comes_and_goes_at_one_spot_is_looked_at_first(tmp_path: Path) -> None:
    folder = book(tmp_path / "book")
    put_shots(folder, "c1", "CAM01", [s for s in few(81, 24) if s.light == "infrared"])
    with open_logbook(folder) as session:
        con = session.con
        con.execute("DELETE FROM changes")
        con.execute(
            "INSERT INTO changes BY NAME SELECT frame, 'CAM01' AS camera, card, light, 9.0 AS news"
            " FROM looks JOIN frames USING (frame)"
        )
        some = [f for (f,) in con.execute("SELECT frame FROM looks ORDER BY frame").fetchall()][:3]
        empty = "UPDATE changes SET news = 0.01, comes_back = ? WHERE list_contains(?, frame)"
        held = "SELECT count(*) FILTER (aside), count(*) FILTER (look_first) FROM empty_scores"

        def found() -> list[tuple[int, int]]:
            score(session)
            return con.execute(held).fetchall()

        con.execute(empty, [False, some])
        assert found() == [(3, 0)]
        con.execute(empty, [True, some])
        assert found() == [(0, 3)]
        con.execute("UPDATE changes SET news = 0.01, comes_back = FALSE")
        every = [f for (f,) in con.execute("SELECT frame FROM looks ORDER BY frame").fetchall()]
        n = len(every)
        assert found() == [(0, n)]
        # What shows something, and what is held by itself, does not make the card be held.
        con.execute("UPDATE changes SET news = 9 WHERE list_contains(?, frame)", [every[: n // 6]])
        con.execute(empty, [True, every[-n // 4 :]])
        ((aside, look),) = found()
        assert (aside, look) == (n - n // 6 - len(every[-n // 4 :]), len(every[-n // 4 :]))


@pytest.mark.thorough
def test_what_one_check_showed_no_later_check_hides(tmp_path: Path) -> None:
    folder = book(tmp_path / "book")
    first = [s for s in few(83, 24, animals=0.5) if s.light == "infrared"]
    put_shots(folder, "c1", "CAM01", first)
    scored(folder)
    visible = "SELECT frame FROM empty_scores WHERE NOT aside ORDER BY frame"
    before = {f for (f,) in rows(folder, visible)}
    assert (folder.cards / "card-c1" / SHOWN).read_text().count("\n") == len(before)
    with open_logbook(folder) as session:  # as if a later check found nothing new in any of them
        some = sorted(before)[:3]  # few, lest the whole card be held for a look
        session.con.execute("UPDATE changes SET news = 9, cant_judge = NULL, comes_back = FALSE")
        session.con.execute("UPDATE changes SET news = 0.01 WHERE list_contains(?, frame)", [some])
        score(session)
        after = {f for (f,) in session.con.execute(visible).fetchall()}
    assert before <= after
    folder.database.unlink()
    assert before <= {f for (f,) in rows(folder, visible)}


@pytest.mark.thorough
def test_what_tags_bring_back_is_noted_as_it_is_when_all_is_made_again(tmp_path: Path) -> None:
    folder = book(tmp_path / "book")
    put_shots(folder, "c1", "CAM01", few(81, 30, animals=0.3))
    scored(folder)
    shown = "SELECT frame, how FROM shown ORDER BY ALL"
    before = rows(folder, shown)
    gone = rows(
        folder,
        "SELECT e.frame FROM empty_scores e JOIN looks USING (frame) JOIN changes c USING (frame)"
        " WHERE aside AND looks.light = 'colour' ORDER BY c.news",
    )
    assert len(gone) > 12
    overlooked = [frame for (frame,) in gone[:5]]
    say(folder, TagFrames(Subject("animal", species="deer", sex="female"), overlooked))
    after = rows(folder, shown)
    assert len(after) > len(before)
    folder.database.unlink()
    assert rows(folder, shown) == after


@pytest.mark.thorough
def test_a_torn_or_strange_line_of_what_was_shown_is_passed_over(tmp_path: Path) -> None:
    folder = book(tmp_path / "book")
    put_shots(folder, "c1", "CAM01", few(84, 8))
    path = folder.cards / "card-c1" / SHOWN
    path.write_text('"strange\t\n0123456789abcdef ke')
    scored(folder)
    lines = path.read_text().splitlines()
    assert len(lines) > 2
    assert all(len(line) == 21 for line in lines[2:])
    folder.database.unlink()
    assert rows(folder, "SELECT count(*) FROM shown") == [(len(lines) - 2,)]


def test_too_few_to_compare_is_a_reason() -> None:
    found = rows_of(few(85, 3))
    assert {row.cant_judge for row in found} == {TOO_FEW}


@pytest.mark.long
@pytest.mark.parametrize("light", ["infrared", "colour"])
@pytest.mark.parametrize("name", SPOTS)
@pytest.mark.parametrize("n", [50, 110, 200])
def test_of_many_animals_at_one_spot_under_1_in_100_frames_is_hidden(
    n: int, name: str, light: str
) -> None:
    found = [
        lost(s, rows_of(s))
        for seed in range(6)
        if (s := list(spot(9000 + seed, SPOTS[name], light, n=n)))
    ]
    assert sum(h for h, _ in found) <= 0.01 * sum(n for _, n in found)


@pytest.mark.thorough
def test_what_waits_for_a_look_is_seen_on_a_sheet_taken_as_nothing_at_once_and_taken_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book(tmp_path / "book")
    put_shots(folder, "c1", "CAM01", [s for s in few(81, 24, animals=0) if s.light == "infrared"])
    (found,) = scored(folder)
    home, sheet = ["--logbook", str(folder.root)], tmp_path / "look.jpg"
    assert run([*home, "frames", "--look-first", "--sheet", str(sheet), "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["rows"]) == found.look_first
    picture = cv2.imread(str(sheet))
    assert picture.shape[1] > picture.shape[0] / 10
    assert run([*home, "tag", "nothing", "--look-first", "--camera", "CAM01"]) == 0
    nothing = "SELECT count(*) FROM tags WHERE what = 'nothing'"
    assert rows(folder, nothing) == [(found.look_first,)]
    capsys.readouterr()
    assert run([*home, "frames", "--look-first"]) == 0
    assert "nothing left to check" in capsys.readouterr().out
    assert run([*home, "tag", "nothing", "--look-first", "--camera", "CAM01"]) == 2
    assert run([*home, "undo"]) == 0
    assert rows(folder, nothing) == [(0,)]
