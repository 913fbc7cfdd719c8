"""Can the bed see you walk in? Over the ground, for the evening's walk, and which way hides you."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from answers_world import HOME
from test_sits_tonight import DAY, _stand, _way_in, _world

from camsign.formats.elevation import Elevation, elevation_bytes
from camsign.ground.grid import Grid
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.sits.rows import StandRow
from camsign.sits.tonight import tonight
from camsign.sits.weather import typed_sky


def _asked(tmp_path: Path, ridge: bool, *ways: str, morning: bool = False) -> StandRow:
    """A bed in the middle; level ground, or a ridge that stands 30 m east of it."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    lines = {
        "a open": [(420.0, -200.0), (205.0, 10.0)],
        "behind": [(420.0, 200.0), (205.0, 14.0)],
    }
    for name in ways:
        _way_in(world, name, *lines[name])
    folder = Folder(tmp_path)
    folder.__dict__["settings"] = world.settings
    x = np.arange(-1500, 1500, 10) + 5.0
    heights = np.full((300, 300), 300.0)
    if ridge:
        heights += 25 * np.exp(-(((x[None, :] - 90) / 25) ** 2)) * (x[::-1, None] > 0)
    (tmp_path / "ground").mkdir(exist_ok=True)
    grid = Grid(heights, -1500.0, 1500.0, 10.0)
    path = tmp_path / "ground" / "elevation.tif"
    path.write_bytes(elevation_bytes(Elevation(grid, *HOME, 10.0, 0.0)))
    session = Session(folder, world.session().con)
    (row,) = tonight(session, DAY, typed_sky("W", 4, 0.5), morning).stands
    return row


def test_level_ground_hides_nothing_and_a_ridge_does(tmp_path: Path) -> None:
    seen = _asked(tmp_path, False, "behind")
    assert seen.way_in_seen == 1.0
    assert any(line.startswith("the bed looks onto 10 parts in 10") for line in seen.why)
    hidden = _asked(tmp_path, True, "behind")
    assert hidden.way_in_seen is not None and hidden.way_in_seen < 0.05
    assert "the ground hides the way in from the bed" in hidden.why


def test_of_two_ways_as_good_the_hidden_one_is_named(tmp_path: Path) -> None:
    assert _asked(tmp_path, True, "a open", "behind").way_in == "behind"


def test_nothing_is_seen_in_the_dark_nor_said_without_ground(tmp_path: Path) -> None:
    assert _asked(tmp_path, False, "behind", morning=True).way_in_seen is None
    world = _world()
    _stand(world, "East pine", (200, 12))
    _way_in(world, "behind", (420.0, 200.0), (205.0, 14.0))
    (row,) = tonight(world.session(), DAY, typed_sky("W", 4, 0.5)).stands
    assert row.way_in_seen is None
