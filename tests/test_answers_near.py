"""Detections joined to sign: against a join made by hand, one pair after the other."""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from answers_world import TZ, World, at
from geographiclib.geodesic import Geodesic

from camsign.answers.near import near
from camsign.answers.scope import scope_of
from camsign.cli.near import _each_visit, _table
from camsign.cli.show import Table
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.page import area_parts

AUTUMN = (date(2025, 9, 1), date(2025, 12, 31))


def _world() -> tuple[World, str]:
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Hemlock Bench", (0, 0), 80)
    return world, world.camera("CAM01", (100, 0), date(2025, 9, 1), date(2025, 12, 1))


def test_sign_found_in_march_joins_last_autumns_pictures() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, "2025-11-03 06:40")
    rub = world.sign("rub", (160, 20), date(2026, 3, 14), AUTUMN, 45)
    session = world.session()
    (row,) = near(session, scope_of(session)).to_records()
    (there, here) = (at(160, 20), at(100, 0))
    line = Geodesic.WGS84.Inverse(*here, *there)
    assert (row["buck"], row["buck_id"], row["sign"]) == ("Split Brow", "b-split-brow", rub)
    assert (row["kind"], row["days"]) == ("rub", 0)
    # geographiclib is an independent implementation of Karney's geodesics.
    assert row["distance_m"] == pytest.approx(line["s12"], abs=1e-6)
    assert row["bearing_deg"] == pytest.approx(line["azi1"] % 360, abs=1e-6)
    assert row["utc"].isoformat() == "2025-11-03T11:40:00+00:00"


def test_people_read_one_row_a_visit_and_programs_every_picture() -> None:
    """Three pictures within the gap (30 minutes) are a visit; the fourth, hours later, another."""
    world, hung = _world()
    times = ("06:40", "06:41", "07:05", "17:20")
    world.seen("b-split-brow", hung, *(f"2025-11-03 {clock}" for clock in times))
    rub = world.sign("rub", (160, 20), date(2026, 3, 14), AUTUMN, 45)
    session = world.session()
    scope = scope_of(session)
    answer = near(session, scope)
    told = [
        *_table(answer, session.settings),
        *_each_visit(answer, session.settings, scope.gap_s),
    ]
    tables = [b for b in told if isinstance(b, Table)]
    shown = [dict(zip(tables[1].head, row, strict=True)) for row in tables[1].rows]
    assert [(row["when"].strftime("%H:%M"), row["pictures"], row["sign"]) for row in shown] == [
        ("06:40", 3, rub),
        ("17:20", 1, rub),
    ]
    assert len(answer.to_records()) == 4


def test_several_animals_of_a_frame_come_in_one_order() -> None:
    """DuckDB gives rows as its threads come by them."""
    who = [("b-split-brow", "male"), (None, "female"), (None, None), (None, "male")]
    told = []
    for animals in (who, who[::-1]):
        world, hung = _world()
        for buck, sex in animals:
            world.seen(buck, hung, "2025-10-15 06:40", sex=sex)
        world.sign("rub", (160, 20), date(2026, 3, 14), AUTUMN, 45)
        session = world.session()
        session.con.execute("UPDATE detections SET frame = 'f'")
        told.append(
            [(r["buck_id"], r["sex"]) for r in near(session, scope_of(session)).to_records()]
        )
    assert told[0] == told[1] and set(told[0]) == set(who)


def test_who_has_no_name_is_told_by_his_kind() -> None:
    """A squirrel was told as a buck without a name."""
    world, hung = _world()
    for species, sex in (("squirrel", None), ("elk", "male"), (None, None), ("deer", None)):
        world.seen(None, hung, "2025-10-15 06:40", species=species, sex=sex)
    world.seen(None, hung, "2025-10-15 06:50")
    world.sign("rub", (160, 20), date(2026, 3, 14), AUTUMN, 45)
    session = world.session()
    answer = near(session, scope_of(session))
    who = {"a squirrel", "an elk", "an animal", "a deer", "a buck without a name"}
    (table,) = (b for b in _table(answer, session.settings) if isinstance(b, Table))
    assert {row[0] for row in table.rows} == who
    page = area_parts._near(session, answer)["rows"]
    assert {row.buck for row in page} == who


def test_days_outside_the_made_window_are_counted_on_both_sides() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, "2025-10-01 06:40", "2025-10-15 06:40", "2025-10-25 06:40")
    world.sign("bed", (120, 0), date(2025, 10, 20), (date(2025, 10, 8), date(2025, 10, 20)))
    session = world.session()
    scope = scope_of(session)
    assert [r["days"] for r in near(session, scope).to_records()] == [0]
    assert sorted(r["days"] for r in near(session, scope, days=6).to_records()) == [0, 5]
    assert sorted(r["days"] for r in near(session, scope, days=7).to_records()) == [0, 5, 7]


def test_a_sign_looked_at_twice_joins_once() -> None:
    world, hung = _world()
    world.seen("b-split-brow", hung, "2025-10-15 06:40")
    spans = [(date(2025, 10, 1), date(2025, 10, 12)), (date(2025, 10, 14), date(2025, 10, 20))]
    for made in spans:
        world.sign("scrape", (120, 0), made[1], made, sign="s-one")
    session = world.session()
    (row,) = near(session, scope_of(session), days=30).to_records()
    assert row["days"] == 0


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(4))
def test_against_a_join_by_hand(seed: int) -> None:
    chance = random.Random(seed)
    world = World()
    bucks = [world.buck(name) for name in ("One", "Two", "Three")]
    world.area("Bench", (0, 0), 100)
    hung = {
        world.camera(f"CAM{i}", p, date(2025, 9, 1), date(2025, 12, 1)): p
        for i, p in enumerate([(0, 0), (250, 30), (900, -400), (150, 150)])
    }
    local = ZoneInfo(TZ)
    seen = []
    for _ in range(60):
        deployment, buck = chance.choice(list(hung)), chance.choice([*bucks, None])
        moment = datetime(2025, 9, 2, tzinfo=local) + timedelta(minutes=chance.randrange(120000))
        text = moment.astimezone(local).strftime("%Y-%m-%d %H:%M:%S")
        world.seen(buck, deployment, text)
        seen.append((moment.astimezone(local), deployment, buck))
    signs = []
    for i in range(25):
        place = (chance.uniform(-400, 1200), chance.uniform(-600, 400))
        first = date(2025, 9, 1) + timedelta(days=chance.randrange(80))
        made = (first, first + timedelta(days=chance.randrange(25)))
        world.sign("rub", place, made[1], made, sign=f"s-{i}")
        signs.append((f"s-{i}", place, made))
    session = world.session()
    within, days = 300.0, 3
    expected = []
    for moment, deployment, buck in seen:
        for sign, place, (first, last) in signs:
            here, there = at(*hung[deployment]), at(*place)
            distance = Geodesic.WGS84.Inverse(*here, *there)["s12"]
            outside = max((first - moment.date()).days, (moment.date() - last).days, 0)
            if distance <= within and outside <= days:
                expected.append((moment, sign, buck, round(distance, 3), outside))
    got = [
        (r["utc"], r["sign"], r["buck_id"], round(r["distance_m"], 3), r["days"])
        for r in near(session, scope_of(session), within_m=within, days=days).to_records()
    ]
    assert expected
    key = repr
    assert sorted(((m.timestamp(), *r) for m, *r in got), key=key) == sorted(
        ((m.timestamp(), *r) for m, *r in expected), key=key
    )


def test_an_area_wants_camera_and_sign_in_reach() -> None:
    world, hung = _world()
    far = world.camera("CAM02", (600, 0), date(2025, 9, 1), date(2025, 12, 1))
    for one in (hung, far):
        world.seen("b-split-brow", one, "2025-11-03 06:40")
    close = world.sign("rub", (200, 0), date(2026, 3, 14), AUTUMN)
    world.sign("rub", (290, 0), date(2026, 3, 14), AUTUMN)
    world.sign("rub", (610, 0), date(2026, 3, 14), AUTUMN)
    session = world.session()
    assert len(near(session, scope_of(session)).to_records()) == 3
    rows = near(session, scope_of(session, areas=["Hemlock Bench"])).to_records()
    assert [r["sign"] for r in rows] == [close]


def test_bucks_kinds_and_doubts_narrow_it() -> None:
    world, hung = _world()
    world.buck("Old Crook")
    world.seen("b-split-brow", hung, "2025-11-03 06:40")
    world.seen("b-old-crook", hung, "2025-11-04 06:40")
    world.seen("b-old-crook", hung, "2025-11-05 06:40", doubt="clock reset")
    world.seen(None, hung, "2025-11-06 06:40", what="person")
    world.sign("rub", (120, 0), date(2026, 3, 14), AUTUMN)
    world.sign("bed", (120, 5), date(2025, 11, 5), (date(2025, 10, 6), date(2025, 11, 5)))
    session = world.session()
    everything = near(session, scope_of(session))
    assert len(everything.to_records()) == 4
    assert any("1 sighting whose time is in doubt" in reason for reason in everything.why)
    crook = near(session, scope_of(session, bucks=["Old Crook"]), kinds=["rub"])
    assert [(r["buck"], r["kind"]) for r in crook.to_records()] == [("Old Crook", "rub")]
    with pytest.raises(UsageError, match="there are bed, rub"):
        near(session, scope_of(session), kinds=["rubb"])
    with pytest.raises(UsageError, match="pair_limit_m"):
        near(session, scope_of(session), within_m=2500)
    with pytest.raises(UsageError, match="-1 days before or after"):
        near(session, scope_of(session), days=-1)


def test_empty_logbook_and_table_forms() -> None:
    session: Session = World().session()
    answer = near(session, scope_of(session))
    assert answer.to_records() == [] == answer.to_json()["rows"]
    assert list(answer.to_frame().columns)[:4] == ["frame", "buck", "buck_id", "utc"]
    assert answer.said == (
        "Can't tell: no sign logged yet. Add a rub or scrape on the Map, or: camsign sign add."
    )
    assert answer.to_json()["signless"].startswith("no sign logged yet")


def test_sign_of_other_days_is_no_sign_to_be_near() -> None:
    """It blamed the cameras, which hung all along."""
    world, hung = _world()
    world.seen("b-split-brow", hung, "2025-11-03 06:40")
    world.sign("rub", (120, 0), date(2025, 9, 9), (date(2025, 9, 1), date(2025, 9, 9)))
    session = world.session()
    november = scope_of(session, first=date(2025, 11, 1), last=date(2025, 11, 30))
    assert near(session, november).said == (
        "Can't tell: none of your sign fits the days and places you asked about."
    )
    assert near(session, scope_of(session, last=date(2025, 9, 20))).signless is None


def test_where_nothing_is_near_it_says_how_much_was_looked_at() -> None:
    """With every picture unsorted, or one buck missing, it said that no picture was taken there."""
    world = World()
    world.buck("Split Brow")
    world.buck("Forky")
    hung = world.camera("CAM01", (50, 0), date(2025, 9, 1), date(2025, 9, 30))
    world.sign("rub", (0, 0), date(2025, 9, 30), (date(2025, 9, 1), date(2025, 9, 30)))
    session = world.session()
    nobody = near(session, scope_of(session))
    assert nobody.said == (
        "No tagged picture of anything near sign while it was made; absence of pictures is not "
        "absence of the buck."
    )
    assert any("CAM01: 1 camera close enough, 30 nights covered" in one for one in nobody.why)
    for i in range(20):
        night = date(2025, 9, 2) + timedelta(days=i)
        world.add("unsorted", deployment=hung, day=night, night=night, bursts=1)
    waits = "20 of 30 nights aren't sorted, so they don't count yet"
    session = world.session()
    said = near(session, scope_of(session)).said
    assert said == f"Can't tell yet who was near your sign: {waits}. Sort them first."
    world.rows["unsorted"] = world.rows["unsorted"][:6]
    world.seen("b-split-brow", hung, "2025-09-25 07:00")
    session = world.session()
    assert near(session, scope_of(session)).said.startswith("Split Brow was near 1 piece of sign")
    other = near(session, scope_of(session, bucks=["Forky"])).said
    assert other.startswith("No tagged picture of Forky near sign while it was made; 6 of 30 ")


def test_cameras_too_far_from_any_sign_say_nothing_of_it() -> None:
    """It told of unsorted nights at cameras that lie out of reach of all sign."""
    world = World()
    world.buck("Split Brow")
    close = world.camera("CAM01", (50, 0), date(2025, 9, 1), date(2025, 9, 30))
    away = world.camera("CAM02", (900, 0), date(2025, 9, 1), date(2025, 9, 30))
    world.sign("rub", (0, 0), date(2025, 9, 30), (date(2025, 9, 1), date(2025, 9, 30)))
    for i in range(25):
        night = date(2025, 9, 2) + timedelta(days=i)
        world.add("unsorted", deployment=away, day=night, night=night, bursts=1)
    session = world.session()
    answer = near(session, scope_of(session))
    assert answer.said.startswith("No tagged picture of anything near sign") and close
    assert list(answer.watch) == ["CAM01"]
    assert not any("CAM02" in line for line in answer.why)
    far = near(session, scope_of(session), within_m=1000)
    waits = "25 of 30 nights at CAM02 aren't sorted"
    assert far.said.startswith(f"Can't tell yet who was near your sign: {waits}")


def test_rows_stand_as_the_sentence_tells_them() -> None:
    """It named Twig for the most sign, and listed him below a mature buck and, on the page, what
    was pictured more often."""
    world, hung = _world()
    world.buck("Twig", 1.5)
    world.seen(None, hung, *(f"2025-10-15 0{h}:40" for h in range(9)), species="squirrel")
    world.seen("b-split-brow", hung, "2025-11-03 06:40", "2025-11-03 06:41")
    world.seen("b-twig", hung, "2025-10-15 06:40")
    world.sign("rub", (160, 20), date(2026, 3, 14), AUTUMN, 45)
    october = (date(2025, 10, 10), date(2025, 10, 20))
    world.sign("scrape", (150, 30), date(2025, 10, 20), october)
    session = world.session()
    answer = near(session, scope_of(session))
    assert answer.said.startswith("Twig was near 2 pieces of sign, the most of any buck")
    (table,) = (b for b in _table(answer, session.settings) if isinstance(b, Table))
    assert [row[0] for row in table.rows] == ["Twig", "Split Brow", "a squirrel"]
    page = dict.fromkeys(row.buck for row in area_parts._near(session, answer)["rows"])
    assert list(page) == ["Twig", "Split Brow", "a squirrel"]
