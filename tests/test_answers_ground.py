"""What lies where: a camera that was moved is told from one that still hangs."""

from __future__ import annotations

from datetime import date

from answers_world import World

from camsign.answers.ground import ground
from camsign.report.propertymap import _in_its_places


def test_a_moved_camera_says_when_and_one_hung_there_again_stands_once() -> None:
    world = World()
    world.camera("CAM06", (0, 0), date(2025, 8, 10), date(2025, 10, 3), deployment="d-1")
    world.camera("CAM06", (900, 0), date(2025, 10, 5), date(2025, 11, 9), deployment="d-2")
    world.camera("CAM07", (0, 500), date(2024, 8, 10), date(2024, 12, 3), deployment="d-3")
    world.camera("CAM07", (0, 500), date(2025, 8, 10), date(2025, 12, 3), deployment="d-4")
    cameras = ground(world.session()).cameras
    moved = {spot.id: spot.moved_on for spot in cameras}
    # The world takes a camera down on the morning after its last night.
    assert moved == {"d-1": date(2025, 10, 4), "d-2": None, "d-3": date(2024, 12, 4), "d-4": None}
    assert [spot.id for spot in _in_its_places(cameras)] == ["d-1", "d-2", "d-4"]
