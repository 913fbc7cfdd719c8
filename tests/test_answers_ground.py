"""What lies where: a camera that was moved is told from one that still hangs."""

from __future__ import annotations

from datetime import date

from answers_world import World

from camsign.answers.ground import ground, pictured
from camsign.answers.scope import scope_of
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
    assert sorted(spot.id for spot in _in_its_places(cameras)) == ["d-1", "d-2", "d-4"]


def test_of_one_season_there_is_what_hung_and_what_was_made_in_it() -> None:
    world = World()
    for year in (2024, 2025):
        place = (100 * (year - 2024), 0)
        world.camera("CAM06", place, date(year, 8, 10), date(year, 12, 3), deployment=f"d-{year}")
        made = date(year, 10, 1), date(year, 10, 20)
        world.sign("rub", (50, year - 2000), date(year, 10, 20), made, sign=f"s-{year}")
    session = world.session()
    for year in (2024, 2025):
        there = ground(session, scope_of(session, season=year))
        assert [c.id for c in there.cameras] == [f"d-{year}"]
        assert [s.id for s in there.sign] == [f"s-{year}"]
    assert len(ground(session).sign) == 2


def test_a_buck_is_counted_where_each_camera_hung_beside_the_nights_it_watched() -> None:
    """By hand: three pictures within the visit gap are one visit; another buck's are not his."""
    world = World()
    old, other = world.buck("Old Quarrel", 6.5), world.buck("Twig", 1.5)
    world.camera("CAM06", (0, 0), date(2025, 9, 1), date(2025, 9, 10), deployment="d-1")
    world.camera("CAM06", (900, 0), date(2025, 9, 12), date(2025, 9, 16), deployment="d-2")
    noon, night = "2025-09-03T12:0", "2025-09-05T23:00"
    world.seen(old, "d-1", f"{noon}0", f"{noon}5", f"{noon}9", night)
    world.seen(other, "d-2", "2025-09-13T12:00")
    session = world.session()
    rows = pictured(session, scope_of(session, ["Old Quarrel"], season=2025))
    assert [(r.deployment, r.visits, r.shooting_light, r.last, r.nights_watched) for r in rows] == [
        ("d-1", 2, 1, date(2025, 9, 5), 10), ("d-2", 0, 0, None, 5)]  # fmt: skip
    assert [r.in_words() for r in rows] == ["2 visits, 1 in light; 10 days",
                                            "no picture of him; 5 days"]  # fmt: skip
