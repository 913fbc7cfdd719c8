"""When one buck is near one area: visits in sun-anchored and local time."""

from __future__ import annotations

from datetime import date

import pytest
from answers_world import World

from camsign.answers.scope import scope_of
from camsign.answers.when import When, when
from camsign.errors import UsageError


@pytest.fixture(scope="module")
def answer() -> When:
    world = World()
    world.buck("Split Brow", 5.5)
    world.buck("Old Crook", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    hung = world.camera("CAM01", (150, 0), date(2025, 10, 1), date(2025, 11, 11))
    inside = world.camera("CAM02", (0, 10), date(2025, 10, 1), date(2025, 11, 11))
    world.seen("b-split-brow", hung, "2025-10-31 17:30", "2025-10-31 17:40", "2025-11-03 06:10")
    world.seen("b-split-brow", inside, "2025-10-31 17:50", "2025-11-05 12:00")
    world.seen("b-old-crook", hung, "2025-11-03 06:10")
    session = world.session()
    return when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))


def test_visits_in_order_with_offset_and_distance(answer: When) -> None:
    assert [v.local.isoformat() for v in answer.visits] == [
        "2025-10-31T17:30:00-04:00",
        "2025-11-03T06:10:00-05:00",
        "2025-11-05T12:00:00-05:00",
    ]
    assert [v.camera for v in answer.visits] == ["CAM01", "CAM01", "CAM02"]
    assert [v.distance_m for v in answer.visits] == pytest.approx([70, 70, 0], abs=1e-3)
    assert answer.visits[0].until.isoformat() == "2025-10-31T17:50:00-04:00"
    assert all(v.utc == v.local for v in answer.visits)
    assert answer.last_seen == answer.visits[-1].local


def test_hours_from_the_sun(answer: When) -> None:
    # Sunset on 2025-10-31 at 44.1 N 71.2 W is close to 17:35 EDT, sunrise on 3 November to 06:21
    # EST (almanac values from memory, good to some minutes).
    assert answer.visits[0].minutes_from_sunset == pytest.approx(-5, abs=4)
    assert answer.visits[1].minutes_from_sunrise == pytest.approx(-12, abs=4)
    assert sum(h.visits for h in answer.by_hour_from_sunrise) == 3
    assert answer.by_hour_from_sunrise[0].hour == -1
    hours = [h.hour for h in answer.by_hour_from_sunset]
    assert hours == list(range(hours[0], hours[-1] + 1))
    assert (answer.daylight.value, answer.daylight.n) == (pytest.approx(2 / 3), 3)


def test_keys_of_json_and_table(answer: When) -> None:
    given = answer.to_json()
    wanted = {
        "buck", "area", "nights_watched", "by_hour_from_sunrise", "by_hour_from_sunset", "daylight",
        "last_seen", "visits", "watch", "method", "why",
    }  # fmt: skip
    assert wanted <= set(given)
    assert set(given["by_hour_from_sunset"][0]) == {"hour", "visits"}
    wanted = {
        "utc", "local", "camera", "in_daylight", "minutes_from_sunrise", "minutes_from_sunset",
        "distance_m",
    }  # fmt: skip
    assert wanted <= set(given["visits"][0])
    assert list(answer.to_frame()["buck"]) == ["Split Brow"] * 3


def test_one_buck_and_one_area_are_wanted() -> None:
    world = World()
    world.area("Hemlock Bench", (0, 0), 80)
    session = world.session()
    with pytest.raises(UsageError, match="one buck and one area"):
        when(session, scope_of(session, areas=["Hemlock Bench"]))


def test_never_seen_is_not_absent() -> None:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    session = world.session()
    answer = when(session, scope_of(session, bucks=["Split Brow"], areas=["Hemlock Bench"]))
    assert answer.visits == ()
    assert any("absence of pictures is not absence" in reason for reason in answer.why)
    assert any("not enough watch" in reason for reason in answer.why)
