"""What tonight said is kept before a sit, and compared with what happened: n and interval."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from answers_world import World
from scipy.stats import binom
from test_sits_tonight import _ask, _stand, _world

from camsign.answers.scope import scope_of
from camsign.cli.tonight import _keep
from camsign.errors import UsageError
from camsign.logbook.folder import create
from camsign.logbook.journal import decode
from camsign.logbook.session import Session
from camsign.sits.review import NothingToKeep, Review, bins_of, keep_plan, review, sum_of
from camsign.sits.weather import typed_sky

START = datetime(2025, 10, 10, 19, 30)


def _book(sits: list[tuple[float, dict[str, object] | None]], asked_min: int = -60) -> World:
    """A sit a day: the chance that was said, and who was seen."""
    world = _world()
    world.buck("Spindle", 2.5)
    _stand(world, "East pine", (200, 12), shoots_m=30.0)
    for i, (chance, seen) in enumerate(sits):
        start = START + timedelta(days=i)
        stop = start + timedelta(hours=3)
        world.add("sits", sit=f"t-{i}", stand="p-east-pine", start=start, stop=stop)
        world.add(
            "plans", plan=f"q-{i}", stand="p-east-pine", day=start.date(), part="evening",
            asked=start + timedelta(minutes=asked_min), chance=chance, low=0.0, high=1.0,
        )  # fmt: skip
        if seen:
            world.add("encounters", encounter=f"e-{i}", sit=f"t-{i}", **seen)
    return world


def _review(world: World) -> Review:
    session = world.session()
    return review(session, scope_of(session, first=date(2025, 9, 1), last=date(2025, 12, 31)))


MEETS = {"what": "buck", "buck": "b-split-brow", "distance_m": 25.0, "count": 1}


@pytest.mark.parametrize(
    ("seen", "came", "unclear"),
    [
        (MEETS, 1, 0),
        (MEETS | {"distance_m": 80.0}, 0, 0),
        (MEETS | {"spooked": True}, 0, 0),
        (MEETS | {"buck": "b-spindle"}, 0, 0),
        (MEETS | {"distance_m": None}, 0, 1),
        ({"what": "buck", "points": 8, "distance_m": 25.0}, 0, 1),
        ({"what": "buck", "points": 8, "distance_m": 25.0, "mature": True}, 1, 0),
        ({"what": "spike", "distance_m": 25.0}, 0, 0),
        ({"what": "doe", "distance_m": 25.0}, 0, 0),
        (MEETS | {"seen_at": datetime(2025, 10, 10, 23, 30)}, 0, 0),
        (None, 0, 0),
    ],
)  # fmt: skip
def test_he_came_if_a_mature_buck_was_in_range_in_light(
    seen: dict[str, object] | None, came: int, unclear: int
) -> None:
    answer = _review(_book([(0.2, seen)]))
    assert (answer.came, answer.unclear, answer.sits) == (came, unclear, 1 - unclear)


def test_only_what_was_said_before_the_sit_counts() -> None:
    answer = _review(_book([(0.2, MEETS)], asked_min=10))
    assert (answer.sits, answer.unasked) == (0, 1)
    assert answer.said.startswith("Nothing to check yet")
    # Which season these sits are of, since those of another are not among them.
    assert answer.why[:2] == (
        "days: 2025-09-01 to 2025-12-31",
        "1 sit, without odds saved beforehand",
    )
    two = _book([(0.2, None), (0.2, None)], asked_min=10)
    assert "2 sits, none with odds saved beforehand" in _review(two).why
    two.rows["plans"][0]["asked"] -= timedelta(hours=2)
    assert "1 of 2 sits without odds saved beforehand" in _review(two).why


def test_a_stand_without_odds_has_nothing_to_keep() -> None:
    """It said that it was saved for review, which could never check it."""
    world = _world()
    world.rows["bucks"][0]["age"] = 1.5
    _stand(world, "East pine", (200, 12))
    session = world.session()
    answer = _ask(session, "W")
    before = answer.sunset - timedelta(hours=5)
    with pytest.raises(NothingToKeep, match="nothing to save: there are no odds for East pine"):
        keep_plan(session, answer, typed_sky("W", 4.0, 0.5), "East pine", before)
    open_ = datetime.now(UTC) + timedelta(hours=1)
    late = replace(answer, stands=tuple(replace(s, until=open_) for s in answer.stands))
    told = _keep(session, late, typed_sky("W", 4.0, 0.5), "East pine")
    assert told == "Nothing to save: there are no odds for East pine that evening."


def test_the_table_has_n_share_and_interval_and_says_whether_it_fits() -> None:
    answer = _review(_book([(0.15, MEETS if i % 7 == 0 else None) for i in range(21)]))
    (one,) = [b for b in answer.bins if b.n]
    assert (one.low, one.high, one.n, one.came) == (0.1, 0.2, 21, 3)
    assert one.said == pytest.approx(0.15)
    assert (one.share.low or 0) < 3 / 21 < (one.share.high or 1)
    assert answer.said.endswith("3 happened. That fits.")
    wrong = _review(_book([(0.6, None) for _ in range(12)]))
    assert wrong.said.endswith("He came less than was said.")


def test_the_sum_of_like_chances_is_binomial() -> None:
    """scipy.stats' binomial law."""
    found = sum_of([0.3] * 25)
    law = binom(25, 0.3)
    assert (found.value, found.low, found.high) == (
        pytest.approx(7.5), law.ppf(0.025), law.ppf(0.975),
    )  # fmt: skip
    assert sum(b.n for b in bins_of([0.0, 0.05, 1.0, 0.999], [True] * 4)) == 4


def test_what_is_said_of_a_stand_is_one_line_of_the_journal(tmp_path: Path) -> None:
    folder = create(tmp_path / "b", "America/New_York", (44.1, -71.2), "imperial")
    world = _world()
    _stand(world, "East pine", (200, 12))
    answer = _ask(world.session(), "W")
    session = Session(folder, world.session().con)
    before = answer.sunset - timedelta(hours=5)
    row = keep_plan(session, answer, typed_sky("W", 4.0, 0.5), "pine", before)
    (journal,) = (folder.root / "journal").glob("*.jsonl")
    (line,) = journal.read_bytes().splitlines()
    (edit,) = decode(line, 1).edits
    assert edit["set"] == "plan"
    assert edit["to"]["chance"] == row.any_chance.value
    assert (edit["to"]["wind_deg"], edit["to"]["part"]) == (270, "evening")
    with pytest.raises(UsageError, match="is over"):
        keep_plan(
            session, answer, typed_sky("W", 4.0, 0.5), "pine", datetime(2026, 1, 1, tzinfo=UTC)
        )
    with pytest.raises(UsageError, match="there is no place"):
        keep_plan(session, answer, typed_sky("W", 4.0, 0.5), "fir", before)


def test_without_anything_asked_it_says_what_to_run_and_the_readme_says_so_beforehand() -> None:
    world = _world()
    answer = review(world.session(), scope_of(world.session(), season=2025))
    assert "before you go: camsign tonight" in answer.said and "--sit STAND" in answer.said
    readme = (Path(__file__).resolve().parents[1] / "README.md").read_text(encoding="utf-8")
    every_day = readme.split("## Every day")[1].split("\n## ")[0]
    assert 'camsign tonight --wind NW --mph 6 --sit "Ledge Pine"' in every_day
