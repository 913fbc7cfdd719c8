"""Tonight on small properties whose right answer is plain: which stand, which wind, stay out."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from accuracy_sits import AS_PLAYED
from answers_world import HOME, World, at

from camsign.air.spread import Scent
from camsign.answers.beds_known import Known
from camsign.answers.result import Figure
from camsign.answers.scope import Scope
from camsign.cli.tonight import _thermals
from camsign.cli.tonight import _way_in as way_in_cell
from camsign.errors import UsageError
from camsign.formats.elevation import Elevation, elevation_bytes
from camsign.ground.grid import Grid
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.page.tonight_words import said_of
from camsign.sits import rows as said_rows
from camsign.sits.evenings import Air
from camsign.sits.hourwords import light_of_day
from camsign.sits.planning import next_day
from camsign.sits.recalibration import LEAST, kept
from camsign.sits.rows import AirTurn, chances
from camsign.sits.tonight import (
    Tonight,
    answer_of,
    best_first,
    best_of,
    known_of,
    scenes_of,
    tonight,
)
from camsign.sits.verdict import clean_words, headline, rivals_of, who_of, wind_of
from camsign.sits.weather import typed_sky
from camsign.sits.words import clock, odds

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 9)
DAY = date(2025, 11, 7)


def _world(days: int = 12, last: date = LAST) -> World:
    """One bed; a 5.5-year-old comes in from the east by morning and goes out east by evening."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 60)
    hung = world.camera("CAM01", (120, 0), FIRST, last)
    first = date(2025, 10, 3)
    for i in range(days):
        day = first + timedelta(days=3 * i)
        world.seen("b-split-brow", hung, f"{day} 07:05", travel_deg=268.0)
        world.seen("b-split-brow", hung, f"{day} 16:50", travel_deg=92.0)
    return world


def _stand(world: World, name: str, place: tuple[float, float], **more: object) -> None:
    lat, lon = at(*place)
    shape = json.dumps({"type": "Point", "coordinates": [lon, lat]})
    world.add(
        "places",
        place=f"p-{name.casefold().replace(' ', '-')}",
        name=name,
        kind="stand",
        shape=shape,
        **more,
    )


def _way_in(world: World, name: str, *places: tuple[float, float]) -> None:
    line = [[lon, lat] for lat, lon in (at(*p) for p in places)]
    shape = json.dumps({"type": "LineString", "coordinates": line})
    world.add("places", place=f"p-{name}", name=name, kind="way in", shape=shape)


def _ask(session: Session, wind: str, ms: float = 4.0, **more: object) -> Tonight:
    return tonight(session, DAY, typed_sky(wind, ms, 0.5), **more)  # type: ignore[arg-type]


def test_the_stand_on_his_way_wins_on_a_wind_that_blows_on_past() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "North rock", (0, 220))
    answer = _ask(world.session(), "W")
    assert [row.stand for row in answer.stands] == ["East pine", "North rock"]
    best = answer.stands[0]
    assert (best.scent, best.area, best.buck) == ("clean", "Hemlock Bench", "Split Brow")
    assert best.comes_going_deg == pytest.approx(92, abs=6)
    low, value, high = best.chance.low, best.chance.value, best.chance.high
    assert low is not None and value is not None and high is not None
    assert 0 < low < value < high <= 1
    assert value > 3 * (answer.stands[1].chance.value or 0)
    assert answer.headline.startswith("Sit East pine on a W wind: about 1 chance in ")
    assert answer.headline.endswith(" of Split Brow in range.")
    assert answer.said.startswith(answer.headline) and answer.headline.count(". ") == 0


@pytest.mark.parametrize(("last", "told"), [(date(2025, 10, 16), 22), (date(2025, 11, 4), None)])
def test_a_bed_that_no_camera_covered_for_weeks_is_said_to_be_a_guess(
    last: date, told: int | None
) -> None:
    world = _world(4, last)
    _stand(world, "East pine", (200, 12))
    (row,) = _ask(world.session(), "W").stands
    guess = (
        f"the last night covered at Hemlock Bench is {last}, {told} days before: the odds that he "
        "beds there now are a guess from older days"
    )
    assert row.area == "Hemlock Bench"
    assert ([line for line in row.why if "last night covered" in line] == [guess]) is bool(told)


def test_the_wrong_wind_says_stay_out() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    answer = _ask(world.session(), "E")
    (row,) = answer.stands
    assert row.scent == "blown"
    assert answer.stay_out
    assert answer.said.startswith("Stay out")


def test_a_calm_is_no_wind_to_hunt_near_a_bed() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    assert _ask(world.session(), "calm", 0.0).stay_out


def test_the_better_way_in_is_named() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _way_in(world, "past the bed", (-300, 60), (0, 70), (195, 15))
    _way_in(world, "from the east", (600, 300), (400, 200), (205, 20))
    (row,) = _ask(world.session(), "W").stands
    assert (row.way_in, row.way_in_scent) == ("from the east", "clean")


def test_the_terminal_says_why_of_the_stand_to_sit_without_being_asked() -> None:
    """A scent or a walk in that is risky is no word without its reason."""
    from camsign.cli.tonight import _others, _told

    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "West rock", (-150, 0))
    _way_in(world, "past the bed", (-300, 60), (0, 70), (195, 15))
    session = world.session()
    answer = _ask(session, "SW")
    first = best_of(answer.stands)
    assert first is not None
    told = list(_told(answer, session.settings))
    at = told.index(first.stand)
    assert told[at + 1 : at + 1 + len(first.why)] == [f"  {line}" for line in first.why]
    assert first.way_in_scent != "clean" and first.way_in_scent_chance
    assert any(line.startswith("walking in ruins it about ") for line in first.why)
    (way,) = (line for line in first.why if "where you have no camera" in line)
    assert way.startswith("a buck bedded at Hemlock Bench comes out about ")
    assert " past CAM01" in way and way.endswith(" (bucks taken together, this season)")
    rest = [row.stand for row in answer.stands if row is not first]
    assert rest == [line for line in map(str, _others(answer)) if line[0] != " "]


def test_the_hunter_is_in_before_he_gets_up_and_stays_to_last_light() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    answer = _ask(world.session(), "W")
    (row,) = answer.stands
    assert row.comes_at is not None
    assert row.be_in_by < row.comes_at < row.until
    assert row.until - answer.sunset == timedelta(minutes=30)
    assert answer.sunset - row.be_in_by >= timedelta(minutes=90)


def test_turning_the_wind_asks_the_logbook_nothing_anew() -> None:
    """What is known is gathered once: the same answers come after the database is gone."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    _way_in(world, "from the east", (600, 300), (400, 200), (205, 20))
    session = world.session()
    asked = {wind: _ask(session, wind) for wind in ("W", "E", "N")}
    known = known_of(session, DAY)
    session.con.close()
    for wind, answer in asked.items():
        assert answer_of(known, scenes_of(known, typed_sky(wind, 4.0, 0.5))) == answer
    assert asked["W"].said != asked["E"].said


def test_nobody_known_near_the_stands_is_no_call() -> None:
    world = _world()
    _stand(world, "Far away", (3000, 0))
    assert _ask(world.session(), "W").said.startswith("Can't call it")


def test_a_young_buck_is_not_asked_for_unless_named() -> None:
    world = _world()
    world.rows["bucks"][0]["age"] = 1.5
    _stand(world, "East pine", (200, 12))
    session = world.session()
    assert _ask(session, "W").stay_out
    named = _ask(session, "W", bucks=["Split Brow"])
    assert not named.stay_out


def test_more_pictures_narrow_the_chance(monkeypatch: pytest.MonkeyPatch) -> None:
    """As played: how such chances came true adds a doubt that no picture takes away."""
    monkeypatch.setattr(said_rows, "kept", lambda: AS_PLAYED)
    widths = []
    for days in (3, 12):
        world = _world(days)
        _stand(world, "East pine", (200, 12))
        chance = _ask(world.session(), "W").stands[0].chance
        assert chance.low is not None and chance.high is not None and chance.value
        widths.append((chance.high - chance.low) / chance.value)
    assert widths[1] < widths[0]


def test_a_stand_far_from_every_bed_has_no_chance_and_says_why() -> None:
    world = _world()
    _stand(world, "Far away", (3000, 0))
    _way_in(world, "far in", (3300, 0), (3005, 0))
    answer = _ask(world.session(), "W")
    (row,) = answer.stands
    assert row.any_chance.value == 0
    assert (row.scent, row.scent_chance, row.way_in_scent) == (None, None, None)
    # It was said three times over.
    assert "no mature buck is known to bed" in answer.said
    assert not any("known to bed" in line for line in (*row.why, *answer.why))
    _stand(world, "East pine", (200, 12))
    far = next(r for r in _ask(world.session(), "W").stands if r.stand == "Far away")
    assert far.why[0] == "no mature buck is known to bed near this stand"


def test_bucks_without_an_age_are_named_with_what_to_do() -> None:
    """It said that no mature buck was known, and not that the one pictured lacked an age."""
    world = _world()
    world.rows["bucks"][0]["age"] = None
    _stand(world, "East pine", (200, 12))
    answer = _ask(world.session(), "W")
    assert answer.said == (
        "Can't call it: no mature buck is known to bed near your stands this season. Split Brow "
        "has no age yet: set it on Bucks."
    )
    world.rows["bucks"][0]["age"] = 1.5
    assert _ask(world.session(), "W").said.endswith(
        " Tag your bucks on Sort, and set their ages on Bucks."
    )


def test_two_stands_alike_are_too_close_to_call() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "East fir", (200, -4))
    answer = _ask(world.session(), "W")
    first, second = answer.stands
    assert first.tied_with == (second.stand,)
    assert answer.said.endswith(f"your way in isn't drawn. Too close to call with {second.stand}.")


def test_of_two_stands_alike_the_one_with_the_clean_walk_in_is_named() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "East fir", (200, -4))
    first, second = _ask(world.session(), "W").stands
    risky = replace(first, way_in="over the top", way_in_scent="risky")
    odds = first.any_chance
    clean = replace(second, way_in="around", way_in_scent="clean", any_chance=odds)
    rows = best_first([risky, clean])
    assert [(row.stand, row.rank) for row in rows] == [(clean.stand, 1), (risky.stand, 2)]
    assert best_of(rows) == rows[0]
    poor = replace(clean, any_chance=Figure(0.001, 0.0, 0.01))
    assert [row.stand for row in best_first([risky, poor])] == [risky.stand, poor.stand]
    said = headline(clean, "on a W wind", "a mature buck")
    assert said.startswith(f"Sit {second.stand} on a W wind: ")
    assert said.endswith(" of a mature buck in range, most likely Split Brow.")
    assert clean_words(clean) == "Your scent is clean at the stand and on the walk in."
    nearly = replace(clean, way_in_scent_chance=0.09)
    assert clean_words(nearly) == ("Your scent is clean at the stand, mostly clean on the walk in.")
    assert way_in_cell(nearly) == "around: scent mostly clean"
    assert clean_words(risky) == "Your scent is clean at the stand, risky on the walk in."
    assert rivals_of(clean, [risky, clean]) == (
        f" Too close to call with {first.stand} (walk in: risky)."
    )


def test_a_stand_that_is_blown_is_never_as_good_as_another() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "West pine", (-200, 12))
    answer = _ask(world.session(), "W")
    blown = [row for row in answer.stands if row.scent == "blown"]
    assert [row.stand for row in blown] == ["West pine"]
    assert all(not row.tied_with for row in answer.stands)


def test_a_way_in_that_is_drawn_and_a_stand_alone_need_no_word_in_the_verdict() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _way_in(world, "from the east", (600, 300), (400, 200), (205, 20))
    said = _ask(world.session(), "W").said
    assert said.endswith(
        "of Split Brow in range. Your scent is clean at the stand and on the walk in."
    )


def test_a_year_after_the_last_picture_it_names_their_day() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    answer = tonight(world.session(), date(2026, 11, 7), typed_sky("W", 4.0, 0.5))
    assert answer.said == (
        "Can't call it: your newest tagged picture is from 2025-11-05, an earlier season. "
        "Load this season's cards."
    )
    assert any("a day you have pictures for, such as 2025-11-05" in w for w in answer.why)
    assert not any("set ages" in line for line in answer.why)
    assert not any("bed" in line for line in answer.stands[0].why)  # the first line says it


def test_of_a_season_that_waits_to_be_sorted_it_says_so() -> None:
    """He has pictures of this season; what they lack is a name, not a card."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    last = date(2026, 10, 4)
    world.add("unsorted", deployment="d-CAM01", day=last, night=last, bursts=3, likely_empty=0)
    answer = tonight(world.session(), date(2026, 11, 7), typed_sky("W", 4.0, 0.5))
    assert answer.said == (
        "Can't call it: your newest tagged picture is from 2025-11-05, but this season has "
        "pictures up to 2026-10-04. Sort them."
    )
    assert not any("bed" in line or "sort" in line for line in answer.stands[0].why)
    assert not any("cards" in line for line in answer.why)


def test_of_a_morning_he_is_headed_in() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    (row,) = _ask(world.session(), "W", morning=True).stands
    told = " ".join(row.why)
    assert re.search(
        r"a buck bedded at Hemlock Bench goes in about \d+% of the time past CAM01, ", told
    )
    assert "out of" not in told and "leaves" not in told


def test_of_a_morning_the_ways_of_mornings_count_in_full() -> None:
    """Twelve times each way past CAM01; six mornings in past CAM02: 18 and 3, or 18 and 6."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    west = world.camera("CAM02", (-120, 0), FIRST, LAST)
    mornings = [f"{date(2025, 10, 4) + timedelta(days=3 * i)} 07:05" for i in range(6)]
    world.seen("b-split-brow", west, *mornings, travel_deg=90.0)
    session = world.session()
    for morning, weight in ((False, 3.0), (True, 6.0)):
        ways = known_of(session, DAY, morning).habits.ways["a-hemlock-bench"]
        by = {way.past: way for way in ways}
        assert (by["CAM01"].n, by["CAM02"].n) == (18.0, weight)
        assert by["CAM02"].way.heading_deg == pytest.approx(270, abs=5)  # out of the bed


@pytest.mark.parametrize("since", [date(2025, 11, 10), date(2026, 9, 1)])
def test_a_camera_that_hangs_elsewhere_since_leaves_the_way_where_it_saw_it(since: date) -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    before = _ask(world.session(), "W").stands
    world.camera("CAM01", (-900, 400), since, since, deployment="d-next")
    session = world.session()
    scenes = known_of(session, DAY)
    (way,) = scenes.habits.ways["a-hemlock-bench"]
    assert (way.way.x, way.way.y) == pytest.approx(scenes.plane.at(*at(120, 0)))
    assert _ask(session, "W").stands == before


def test_a_camera_moved_around_the_bed_has_a_way_at_each_place() -> None:
    """Out east past the first, west past the second: one way between them, that nobody walks."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 60)
    moved = date(2025, 10, 20)
    east = world.camera("CAM01", (120, 0), FIRST, moved, deployment="d-east")
    west = world.camera("CAM01", (-120, 0), moved, LAST, deployment="d-west")
    for i in range(6):
        days = date(2025, 10, 3) + timedelta(days=2 * i), date(2025, 10, 23) + timedelta(days=2 * i)
        world.seen("b-split-brow", east, f"{days[0]} 16:50", travel_deg=92.0)
        world.seen("b-split-brow", west, f"{days[1]} 16:50", travel_deg=268.0)
    _stand(world, "East pine", (200, 12))
    session = world.session()
    scenes = known_of(session, DAY)
    ways = {round(w.way.x): w.way.heading_deg for w in scenes.habits.ways["a-hemlock-bench"]}
    assert ways == {120: pytest.approx(92, abs=5), -120: pytest.approx(268, abs=5)}
    (row,) = _ask(session, "W").stands
    assert re.search(r"comes out about \d+% of the time past CAM01, \d+% where", " ".join(row.why))


def test_a_calm_is_told_as_a_calm() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    session = world.session()
    assert "no wind" in _ask(session, "calm", 0.0).said and "this wind" in _ask(session, "E").said


def test_the_verdict_says_why_a_stand_with_better_odds_comes_second() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    _stand(world, "East fir", (200, -4))
    first, second = _ask(world.session(), "W").stands
    better = replace(
        first, way_in="over the top", way_in_scent="risky", any_chance=Figure(0.078, 0.02, 0.2)
    )
    top = replace(
        second, way_in="around", way_in_scent="clean", any_chance=Figure(0.067, 0.02, 0.2)
    )
    said = rivals_of(top, [top, better])
    assert said == f" {first.stand} has a bit better odds (1 in 13), but the walk in is risky."
    third = replace(better, stand="West fir")
    both = rivals_of(replace(top, tied_with=(first.stand, "West fir")), [top, better, third])
    assert both == (
        f" {first.stand} and West fir have a bit better odds (1 in 13), but the walk in is risky."
    )
    alike = replace(better, any_chance=top.any_chance)
    assert rivals_of(top, [top, alike]) == (
        f" Too close to call with {first.stand} (walk in: risky)."
    )


def test_the_wind_is_named_as_it_turns_and_a_calm_as_still_air() -> None:
    def air(*from_deg: float | None) -> list[Air]:
        return [Air(Scent(None if d is None else (d + 180) % 360, 20, 25)) for d in from_deg]

    assert wind_of(air(315, 316)) == "on a NW wind" and wind_of(air(90)) == "on an E wind"
    assert wind_of(air(270, 290, 315)) == "as the wind turns from W to NW"
    assert wind_of(air(None, None)) == "in still air" == wind_of(())


def test_whose_chance_it_is() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    odds = known_of(world.session(), DAY).habits.odds
    assert who_of(odds, False) == "Split Brow"
    two = [*odds, replace(odds[0], buck="Mud Hen")]
    assert (who_of(two, False), who_of(two, True)) == ("a mature buck", "a buck you named")


def test_the_parts_are_not_said_to_multiply_or_not() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    why = " ".join(_ask(world.session(), "W").why)
    assert "multiply" not in why
    assert "go by the order of the stands more than by their odds" in why


def test_odds_that_the_parts_do_not_multiply_to_say_what_moved_them(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    world = _world()
    _stand(world, "North rock", (0, 220))
    (row,) = _ask(world.session(), "W").stands
    (line,) = (line for line in row.why if line.startswith("multiplied out, with the wind, "))
    told = odds(row.any_chance.value).removeprefix("about ")
    assert line.endswith(f"came true more often, so we say {told}")
    monkeypatch.setattr(said_rows, "kept", lambda: AS_PLAYED)
    (played,) = _ask(world.session(), "W").stands
    assert f"that's {odds(played.any_chance.value)}; on made-up seasons" in line
    assert (played.any_chance.value or 0) < (row.any_chance.value or 0)
    assert not any(line.startswith("multiplied out") for line in played.why)


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.17, "about 1 chance in 6"), (0.5, "about 1 chance in 2"), (0.66, "about 2 chances in 3"),
     (0.75, "about 3 chances in 4"), (0.9, "about 9 chances in 10"), (0.99, "nearly certain")],
)  # fmt: skip
def test_a_chance_over_one_half_is_not_told_as_one_half(chance: float, words: str) -> None:
    assert chances(chance) == words


def test_cold_air_runs_down_to_the_bed_at_dusk(tmp_path: Path) -> None:
    """Upslope of the bed, under a high ridge in the west: the wind blows on, cold air slides."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    session = world.session()
    calm = tonight(session, DAY, typed_sky("W", 0.9, 0.0))
    folder = Folder(tmp_path)
    folder.__dict__["settings"] = world.settings
    session = Session(folder, session.con)
    kept = tmp_path / "ground"
    kept.mkdir()
    x = np.arange(-1500, 1500, 10) + 5.0
    profile = np.where(x > -400, 400 + 0.25 * x, 300 - 0.7 * (x + 400))
    grid = Grid(np.tile(profile, (300, 1)), -1500.0, 1500.0, 10.0)
    (kept / "elevation.tif").write_bytes(elevation_bytes(Elevation(grid, *HOME, 10.0, 0.0)))
    slope = tonight(session, DAY, typed_sky("W", 0.9, 0.0))
    assert slope.stands[0].scent_chance > calm.stands[0].scent_chance
    assert slope.stands[0].scent == "blown"
    assert slope.stands[0].air_turns_at is not None
    turns = slope.stands[0].air
    assert turns[-1].goes == "downhill" and turns[0].at == slope.stands[0].be_in_by
    assert len({one.goes for one in turns}) == len(turns)


def test_when_thermals_turn_is_told_only_where_they_turn_while_one_sits() -> None:
    """It gave the start of the sit as the hour at which they switch, at every stand alike."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    (row,) = _ask(world.session(), "W").stands
    at = row.be_in_by

    def told(*goes: str) -> str:
        air = tuple(AirTurn(at + timedelta(hours=i), way) for i, way in enumerate(goes))
        return _thermals(replace(row, air=air), world.settings)

    hour = [clock(at + timedelta(hours=i), world.settings) for i in range(3)]
    assert told("downhill") == "downhill all sit"
    assert told("wind", "downhill") == f"downhill from {hour[1]}"
    assert told("downhill", "uphill", "wind") == (
        f"downhill at first, uphill from {hour[1]}, none from {hour[2]}"
    )
    assert told("uphill", "wind", "downhill") == f"uphill at first, downhill from {hour[2]}"
    assert told("wind") == told() == "–"


@pytest.mark.parametrize(
    ("stands", "wind", "told"), [(False, True, "stand"), (True, False, "wind")]
)
def test_what_is_missing_is_one_line(stands: bool, wind: bool, told: str) -> None:
    from camsign.sits.weather import Sky

    world = _world()
    if stands:
        _stand(world, "East pine", (200, 12))
    sky = typed_sky("W", 4, None) if wind else Sky(lambda _: None)
    with pytest.raises(UsageError, match=told):
        tonight(world.session(), DAY, sky)


def test_no_bed_no_answer() -> None:
    world = World()
    _stand(world, "East pine", (200, 12))
    with pytest.raises(UsageError, match="bedding area"):
        _ask(world.session(), "W")


@pytest.mark.parametrize(
    ("wind", "speed"), [("W", None), (None, 3.0), ("sideways", 3.0), ("W", 90.0)]
)
def test_half_a_wind_is_asked_for_again(wind: str | None, speed: float | None) -> None:
    with pytest.raises(UsageError):
        typed_sky(wind, speed, None)


def test_areas_from_which_nobody_comes_by_are_not_asked_about(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A property has many areas, a stand is near a few: the model of beds is asked about these, and
    holds those in a buck's range of them (4 km)."""
    from camsign.sits import habits

    asked: list[str] = []
    held: list[int] = []
    plain = habits.known_of

    def counted(session: Session, scope: Scope, about: list[str]) -> Known:
        asked.extend(about)
        known = plain(session, scope, about=about)
        held.extend(read.evidence.areas for read, _ in known.seasons)
        return known

    monkeypatch.setattr(habits, "known_of", counted)
    world = _world()
    _stand(world, "East pine", (200, 12))
    for n in range(20):
        world.area(f"Far {n}", (3000 + 400 * n, 0), 60)
    assert _ask(world.session(), "W").stands[0].area == "Hemlock Bench"
    assert asked == ["a-hemlock-bench"]
    assert held == [1 + 3]


def test_a_camera_sees_its_own_way_alone() -> None:
    """He is believed to have bedded there on more days than he was pictured going in or out: what
    is missing went where no camera hangs. Out past this one on 12 evenings of 40, 3 in 10 missed,
    the stand behind it cannot be worth half the evenings."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    session = world.session()
    habits = known_of(session, DAY).habits
    bed = "a-hemlock-bench"
    pictured = sum(way.n for way in habits.ways[bed])
    assert habits.unseen[bed] > 0.25 * pictured
    assert (_ask(session, "W").stands[0].chance.value or 1.0) < 0.5


@pytest.mark.thorough
def test_ground_without_a_camera_is_told_apart_from_ground_without_deer() -> None:
    """A bed no camera covered is counted as the others are on average, with all that leaves open;
    one that was covered and stayed empty is none."""
    told = "no camera covered Far Knob, so we guess it's used as much as your other beds"
    for watched in (False, True):
        world = _world()
        world.area("Far Knob", (1500, 0), 60)
        _stand(world, "Knob oak", (1700, 0))
        _stand(world, "East pine", (200, 12))
        if watched:
            world.camera("CAM02", (1620, 0), FIRST, LAST)
        rows = {row.stand: row for row in _ask(world.session(), "W").stands}
        chance, seen = rows["Knob oak"].any_chance, rows["East pine"].any_chance
        assert (chance.value == 0) == watched
        assert any(line.startswith(told) for line in rows["Knob oak"].why) == (not watched)
        assert not any("Far Knob" in line for line in rows["East pine"].why)
        assert (chance.value or 0) < (seen.value or 0)
        if not watched:
            assert (chance.high or 0) > 1.5 * (chance.value or 0)


def test_the_played_chance_is_said_as_seasons_bore_it_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The constants move what is said: a low chance is more, a high one about half."""
    world = _world()
    _stand(world, "East pine", (200, 12))
    session = world.session()
    said = {wind: _ask(session, wind).stands[0] for wind in ("W", "E")}
    monkeypatch.setattr(said_rows, "kept", lambda: AS_PLAYED)
    played = {wind: _ask(session, wind).stands[0] for wind in ("W", "E")}
    law = kept()
    for wind in ("W", "E"):
        was = max(played[wind].any_chance.value or 0, LEAST)
        logit = law.intercept + law.slope * np.log(was / (1 - was))
        assert said[wind].any_chance.value == pytest.approx(1 / (1 + np.exp(-logit)), rel=0.02)
    assert (said["W"].any_chance.value or 1) < 0.75 * (played["W"].any_chance.value or 0)
    assert (said["E"].any_chance.value or 0) > 1.3 * (played["E"].any_chance.value or 0)
    assert all((row.chance.value or 0) <= (row.any_chance.value or 0) for row in said.values())


@pytest.mark.thorough
@pytest.mark.parametrize(("nights", "told"), [(0, None), (2, None), (9, "9 of the 21 nights")])
def test_weeks_that_wait_to_be_sorted_are_told_behind_the_answer(
    nights: int, told: str | None
) -> None:
    """With weeks of pictures unsorted it named a stand, or none, and said nothing of them."""
    world = _world()
    _stand(world, "East Pine", (150, 0))
    for i in range(nights):
        night = DAY - timedelta(days=2 + i)
        world.add("unsorted", deployment="d-CAM01", day=night, night=night, bursts=1)
    said = _ask(world.session(), "W").said
    assert said.startswith("Sit East Pine on a W wind: ")
    if told is None:
        assert "aren't sorted" not in said
    else:
        assert said.endswith(
            f" {told} covered in the last three weeks aren't sorted, so they don't count yet. "
            "Sort them first."
        )


def test_the_next_evening_is_todays_until_shooting_light_is_over() -> None:
    settings = Settings(id="w", tz="America/New_York", home=(44.6, -71.2))
    light = light_of_day(settings, date(2026, 11, 30))
    minute = timedelta(minutes=1)
    assert next_day(settings, now=light.last - minute) == date(2026, 11, 30)
    assert next_day(settings, now=light.last + minute) == date(2026, 12, 1)
    sunrise = light.first + timedelta(minutes=settings.light_before_min)
    assert next_day(settings, True, sunrise + timedelta(hours=2)) == date(2026, 11, 30)
    assert next_day(settings, True, sunrise + timedelta(hours=4)) == date(2026, 12, 1)
    # Just past midnight UTC it is still the evening before there, and over.
    assert next_day(settings, now=datetime(2026, 12, 1, 0, 30, tzinfo=UTC)) == date(2026, 12, 1)
    assert next_day(Settings(id="w", tz="UTC"), now=light.last) == date(2026, 11, 30)


def test_a_stand_or_a_walk_close_to_a_bed_is_told_of_besides_its_scent() -> None:
    """A circle of 60 m: a stand 100 m from its middle is 40 m, 44 yards, from its edge."""
    world = _world()
    _stand(world, "Near pine", (100, 0))
    _stand(world, "Far pine", (200, 12))
    _way_in(world, "past it", (400, -110), (80, -110), (205, 10))
    answer = _ask(world.session(), "W")
    near, far = sorted(answer.stands, key=lambda row: row.close_walking)
    assert near.close_area == "Hemlock Bench" and near.close_m == pytest.approx(40, abs=0.5)
    told = (
        "Near pine is 44 yd from the edge of Hemlock Bench: he may hear or see you come; go in "
        "early and quietly, or sit farther off"
    )
    assert near.why[0] == told
    assert far.close_m == pytest.approx(np.hypot(80, 110) - 60, abs=8)
    assert far.why[0].startswith("the walk in passes ") and "take another way in" in far.why[0]
    top = answer.stands[0]
    said = f"{top.why[0][0].upper()}{top.why[0][1:]}"
    assert f" {said}." in answer.said
    session = world.session()
    known = known_of(session, DAY)
    scenes = scenes_of(known, typed_sky("W", 4.0, 0.5))
    page = said_of(known, answer, scenes, session.settings, DAY)
    assert page["todo"].endswith(f" {said}.")
    assert [row["close"].lower() for row in page["stands"]] == [
        row.why[0].lower() for row in answer.stands
    ]


def test_a_stand_far_from_every_bed_has_no_word_of_it() -> None:
    world = _world()
    _stand(world, "East pine", (200, 12))
    answer = _ask(world.session(), "W")
    assert answer.stands[0].close_area is None and "hear or see" not in answer.said
