"""A buck's page: each spot at which a camera hung says its own nights."""

from __future__ import annotations

from datetime import date, timedelta

from answers_world import World

from camsign.page.lists import make_strips
from camsign.page.portrait import portrait


def test_a_camera_at_two_spots_says_the_nights_of_each() -> None:
    """Both spots said all nights of their camera."""
    world = World()
    buck = world.buck("Split Brow", 5.5)
    world.area("Bench", (0, 0), 80)
    first = world.camera("CAM01", (0, 0), date(2025, 10, 1), date(2025, 10, 10), deployment="d-1")
    other = world.camera(
        "CAM01", (900, 0), date(2025, 10, 20), date(2025, 11, 20), deployment="d-2"
    )
    world.camera("CAM02", (400, 0), date(2025, 10, 1), date(2025, 10, 5))
    # Hung in another year.
    world.camera("CAM03", (400, 90), date(2022, 10, 1), date(2022, 10, 5))
    world.seen(buck, first, "2025-10-03T17:00")
    world.seen(buck, other, "2025-10-25T17:00", "2025-10-29T07:00")
    session = world.session()
    make_strips(session)
    spots = portrait(session, buck, 2025).spots
    assert [(s.deployment, s.visits, s.nights_watched) for s in spots] == [
        ("d-1", 1, 10),
        ("d-2", 2, 32),
        ("d-CAM02", 0, 5),
    ]
    assert [(s.hung, s.taken_down) for s in spots] == [
        (date(2025, 10, 1), date(2025, 10, 11)),
        (date(2025, 10, 20), date(2025, 11, 21)),
        (None, None),
    ]


def test_a_camera_without_a_card_or_mostly_unsorted_is_no_absence() -> None:
    first, last = date(2025, 10, 1), date(2025, 10, 10)
    world = World()
    buck = world.buck("Split Brow", 5.5)
    here = world.camera("CAM01", (0, 0), first, last)
    for n, waiting in ((2, 0), (3, 4), (4, 6)):
        hung = world.camera(f"CAM0{n}", (300 * n, 0), first, last)
        for day in range(waiting):
            on = first + timedelta(days=day)
            world.add("unsorted", deployment=hung, day=on, night=on, bursts=1, likely_empty=0)
    world.camera("CAM05", (0, 300), first, last)
    world.rows["watch"] = [row for row in world.rows["watch"] if row["deployment"] != "d-CAM05"]
    world.seen(buck, here, "2025-10-03T17:00")
    session = world.session()
    make_strips(session)
    untold = {s.camera: s.untold for s in portrait(session, buck, 2025).spots}
    assert untold == {
        "CAM01": False, "CAM02": False, "CAM03": False, "CAM04": True, "CAM05": True,
    }  # fmt: skip


def test_a_clock_that_ran_ahead_makes_no_season_of_his() -> None:
    world = World()
    hung = world.camera("CAM01", (60, 0), date(2025, 9, 1), date(2025, 9, 30))
    buck = world.buck("Split Brow", 2.5)
    world.seen(buck, hung, "2025-09-05 06:30")
    world.seen(buck, hung, "2027-03-01 00:05", doubt="the date was still to come")
    session = world.session()
    make_strips(session)
    shown = portrait(session, buck)
    assert (shown.season, shown.buck.age.value, shown.buck.mature) == (2025, 2.5, False)
    assert shown.buck.last_seen and shown.buck.last_seen.year == 2025
