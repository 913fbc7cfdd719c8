"""What tags of nothing teach: what two such bursts show explains, from the next card on."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from accuracy_taught import later, tagged
from derive_world import book, rows, say
from pixels_harm import SPOTS, spot
from pixels_world import put_shots, score_frames
from scenes import Grid, Shot, season

from camsign.derive.opening import open_logbook
from camsign.flows.intake.result import held_words
from camsign.logbook.edits import Subject, TagFrames, TakeBack
from camsign.logbook.folder import Folder
from camsign.pixels.lessons import FEWEST, NEARBY
from camsign.pixels.news_cache import lay_batches
from camsign.pixels.planes import FramePlanes, planes_of
from camsign.pixels.scores import Aside, set_aside
from camsign.pixels.taught import Taught, learned_from

BEFORE, AFTER = "2026-01-01T12:00:00Z", "2031-01-01T12:00:00Z"  # the tags are said between
CHANGES = "SELECT * FROM changes ORDER BY frame"


def view(leaf: bool) -> Grid:
    ground = np.random.default_rng(5).integers(60, 90, (48, 64), dtype=np.uint8)
    if leaf:
        ground[20:28, 30:38] = 200
    return ground


def empties(with_leaf: int) -> list[FramePlanes]:
    return [FramePlanes(3600.0 * n, n, planes_of(view(n < with_leaf))) for n in range(FEWEST + 1)]


@pytest.mark.parametrize(("with_leaf", "explained"), [(0, False), (1, False), (2, True), (5, True)])
def test_what_two_empty_bursts_show_explains_and_one_alone_does_not(
    with_leaf: int, explained: bool
) -> None:
    here = FramePlanes(1e6, 99, planes_of(view(leaf=True)))
    new = np.full_like(here.planes.both, 200)
    left = Taught(empties(with_leaf)).like(here).left(here.planes.both, new)
    assert bool(left[22:26, 32:36].max() < 5) is explained
    assert left[:10].max() < 5  # the ground is explained in any case


def test_a_burst_does_not_explain_itself_and_few_teach_nothing() -> None:
    known = empties(2)
    here = replace(known[0])
    new = np.full_like(here.planes.both, 200)
    assert Taught(known).like(here).left(here.planes.both, new)[22:26, 32:36].min() > 50
    assert learned_from(known) == FEWEST + 1
    assert learned_from(known[: FEWEST - 1]) == 0
    assert (Taught(known[: FEWEST - 1]).like(here).left(here.planes.both, new) == 200).all()


@pytest.fixture(scope="module")
def windy() -> list[Shot]:
    return list(season(901, triggers=80, kind="windy", animals=0.2))


def parted(windy: list[Shot]) -> tuple[list[Shot], list[Shot]]:
    half = windy[len(windy) // 2].burst
    return [s for s in windy if s.burst < half], [s for s in windy if s.burst >= half]


def second_card(home: Folder, windy: list[Shot], tags: bool) -> tuple[list[str], str]:
    """Two cards of one camera, the first sorted in between or not; the second's frames."""
    early, late = parted(windy)
    frames = put_shots(home, "c1", "CAM01", early, BEFORE)
    with open_logbook(home) as session:
        score_frames(session)
    act = ""
    if tags:
        nothing = [f for f, s in zip(frames, early, strict=True) if s.deer is None]
        act = say(home, TagFrames(Subject("nothing"), nothing))
        with open_logbook(home) as session:
            assert score_frames(session) == 0  # what is there is compared as it was
    frames = put_shots(home, "c2", "CAM01", late, AFTER)
    with open_logbook(home) as session:
        score_frames(session)
    return frames, act


@pytest.mark.thorough
def test_the_next_card_of_a_sorted_camera_has_more_set_aside_and_all_is_derived(
    tmp_path: Path, windy: list[Shot]
) -> None:
    empty = "SELECT frame FROM empty_scores WHERE (aside OR look_first) AND list_contains(?, frame)"
    gone, late = [], parted(windy)[1]
    for tags in (False, True):
        home = book(tmp_path / f"book{tags}")
        frames, act = second_card(home, windy, tags)
        found = {f for (f,) in rows(home, empty, frames)}
        gone.append(sum(f in found for f, s in zip(frames, late, strict=True) if s.deer is None))
        assert not [f for f, s in zip(frames, late, strict=True) if s.animal and f in found]
    assert gone[1] >= 1.15 * gone[0] > 20
    with open_logbook(home) as session:
        (counted,) = set_aside(session)
    assert counted.taught > FEWEST
    before = rows(home, CHANGES)
    home.database.unlink()
    assert rows(home, CHANGES) == before
    # Undone, what was learned is gone, whether the database grew or is made again.
    say(home, TakeBack([act]))
    grown = rows(home, CHANGES)
    home.database.unlink()
    assert rows(home, CHANGES) == grown
    with open_logbook(home) as session:
        assert score_frames(session) > 0
        assert set_aside(session)[0].taught == 0


@pytest.mark.thorough
@pytest.mark.parametrize("wrong", [False, True])
def test_a_deer_that_beds_there_later_is_not_taught_away_not_even_by_one_wrong_tag(
    wrong: bool,
) -> None:
    shots = list(spot(5000, SPOTS["bedded, 10 of 50, days in a row"], n=110))
    first, lay = tagged(shots), next(s.burst for s in shots if s.deer is not None)
    nothing = [i for i in first if shots[i].deer is None or (wrong and shots[i].burst == lay)]
    deer = [frame for frame in later(shots, nothing) if frame.animal]
    assert len(deer) == 24
    assert not [frame for frame in deer if frame.go]


@pytest.mark.thorough
def test_bursts_tagged_as_nothing_before_a_card_came_in_go_with_its_batch(tmp_path: Path) -> None:
    home, many = book(tmp_path / "book"), 310
    one = next(iter(season(902, triggers=1)))
    shots = [
        replace(one, at=one.at + timedelta(minutes=n), light="colour") for n in range(2 * many)
    ]
    first = put_shots(home, "c1", "CAM01", shots[:many], BEFORE)
    second = put_shots(home, "c2", "CAM01", shots[many:], AFTER)
    say(home, TagFrames(Subject("nothing"), first[:many]))
    with open_logbook(home) as session:
        lay_batches(session.con)
        held = "SELECT asked, nothing, list(frame ORDER BY nth) FROM batches GROUP BY ALL"
        found = {(asked, nothing): f for asked, nothing, f in session.con.execute(held).fetchall()}
        names = session.con.execute("SELECT count(DISTINCT made) FROM batches").fetchone()
    inside = first[300:]  # the second batch begins with the first card's last ten
    assert names == (2,)
    assert found[True, True] == inside
    assert found[False, True] == first[300 - (NEARBY - len(inside)) : 300]
    assert found[True, False] == first[:300] + second
    assert len(found) == 3


def test_it_is_said_in_one_line() -> None:
    learned = Aside("CAM07", 300, 300, 200, taught=41)
    assert held_words([learned, Aside("CAM08", 9, 9, 3)]) == [
        "Learned from what you tagged as nothing: 41 bursts at CAM07"
    ]
