"""Which wind he beds on, from pictures and kept winds to tonight's chance."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from answers_world import World
from test_sits_tonight import _stand

from camsign.answers.scope import scope_of
from camsign.errors import UsageError
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.sits.tonight import tonight
from camsign.sits.weather import Sky, import_wind, said_wind, typed_sky
from camsign.sits.windbeds import morning_winds, wind_beds

FIRST, DAYS = date(2025, 9, 20), 70


def _session(tmp_path: Path, by_wind: bool) -> Session:
    """Winds W, N, E, S at random; he beds there on every west wind, or whatever the wind."""
    chance = np.random.default_rng(4)
    winds = chance.choice(["W", "N", "E", "S"], DAYS)
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 60)
    hung = world.camera("CAM01", (120, 0), FIRST, FIRST + timedelta(days=DAYS))
    there = winds == "W" if by_wind else chance.random(DAYS) < 0.3
    lines = []
    for n in range(DAYS):
        day = FIRST + timedelta(days=n)
        lines += [f"{day} {hour:02d}:00,{winds[n]},5," for hour in (5, 7, 9)]
        if there[n]:
            world.seen("b-split-brow", hung, f"{day} 07:05", travel_deg=268.0)
            world.seen("b-split-brow", hung, f"{day} 17:05", travel_deg=92.0)
    _stand(world, "East pine", (200, 12))
    folder = Folder(tmp_path)
    folder.__dict__["settings"] = world.settings
    path = tmp_path / "hours.csv"
    path.write_text("time,from,speed_mph,cloud\n" + "\n".join(lines), encoding="utf-8")
    import_wind(folder, path, FIRST)
    return Session(folder, world.session().con)


def _scope(session: Session, **more: object) -> object:
    last = FIRST + timedelta(days=DAYS - 1)
    return scope_of(session, ["Split Brow"], ["Hemlock Bench"], first=FIRST, last=last, **more)  # type: ignore[arg-type]


@pytest.mark.thorough
def test_a_buck_that_beds_on_the_west_wind_is_shown_and_moves_tonight(tmp_path: Path) -> None:
    session = _session(tmp_path, by_wind=True)
    assert len(morning_winds(session, FIRST, FIRST + timedelta(days=DAYS - 1))) == DAYS
    answer = wind_beds(session, _scope(session))  # type: ignore[arg-type]
    assert answer.shown and answer.said == "He beds here more often on a W wind."
    west = next(row for row in answer.sectors if row.sector == "W")
    assert west.bedded == sum(row.bedded for row in answer.sectors) > 12
    assert west.ratio.low is not None and west.ratio.low > 1
    day = FIRST + timedelta(days=DAYS - 1)
    kept = {deg: Sky(lambda _, deg=deg: said_wind(deg, 4, 0.5)) for deg in (270.0, 337.5)}
    told = {deg: tonight(session, day, sky).stands[0] for deg, sky in kept.items()}
    assert any("on this wind he beds there more often" in line for line in told[270.0].why)
    assert not any("on this wind" in line for line in told[337.5].why)
    # What was typed is the wind of the sit: an evening's does not tell how he lay down at dawn.
    for morning in (False, True):
        (row,) = tonight(session, day, typed_sky("W", 4, 0.5), morning).stands
        assert any("on this wind" in line for line in row.why) == morning


@pytest.mark.thorough
def test_without_a_preference_nothing_is_told_and_nothing_moves(tmp_path: Path) -> None:
    session = _session(tmp_path, by_wind=False)
    answer = wind_beds(session, _scope(session))  # type: ignore[arg-type]
    assert not answer.shown and answer.said.startswith("Can't tell")
    assert {row.verdict for row in answer.sectors} == {"can't tell"}
    day = FIRST + timedelta(days=DAYS - 1)
    (row,) = tonight(session, day, typed_sky("W", 4, 0.5)).stands
    assert not any("on this wind" in line for line in row.why)


def test_too_few_days_are_said_with_what_it_takes(tmp_path: Path) -> None:
    session = _session(tmp_path, by_wind=False)
    few = {"first": FIRST, "last": FIRST + timedelta(days=9)}
    answer = wind_beds(session, scope_of(session, ["Split Brow"], ["Hemlock Bench"], **few))  # type: ignore[arg-type]
    had = sum(row.bedded for row in answer.sectors) or "none"
    needs = "needs 40 days with wind on file, 12 of them bedded here"
    days = sum(row.days for row in answer.sectors)
    assert 7 < days < 11 and f"{needs}; you have {days}, {had} of them bedded" in answer.why


def test_one_buck_and_one_area_are_needed(tmp_path: Path) -> None:
    session = _session(tmp_path, by_wind=False)
    with pytest.raises(UsageError, match="one buck and one area"):
        wind_beds(session, scope_of(session))
