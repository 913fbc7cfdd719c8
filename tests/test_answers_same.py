"""The same pictures and the same words give the same answers, whatever ids were drawn for them."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from answers_world import World, at

from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.makers import makers
from camsign.answers.rivals import rivals
from camsign.answers.scope import scope_of
from camsign.answers.visits import visits
from camsign.answers.where import where
from camsign.logbook.session import Session
from camsign.sign.lines import sign_lines
from camsign.sits.hang_next import hang_next
from camsign.sits.tonight import tonight
from camsign.sits.weather import typed_sky

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 9)
BUCKS = {"Split Brow": 6.5, "Mud Hen": 5.5, "Tin Ear": 4.5}
AREAS = {"Hemlock Bench": (0, 0), "Alder Fork": (500, 120)}
Ids = Callable[[str, int], str]


def upward(letter: str, n: int) -> str:
    """Ids that sort in the order in which things were said."""
    return f"{letter}-{n:08x}"


def downward(letter: str, n: int) -> str:
    """Ids that sort the other way round."""
    return f"{letter}-{0xFFFF - n:08x}"


def _world(ids: Ids, called: Callable[[str], str] = str) -> World:
    """Three bucks, two beds, three cameras, of which two hang at one tree in turn; some unnamed."""
    world = World()
    bucks = [ids("b", n) for n in range(len(BUCKS))]
    for buck, (name, age) in zip(bucks, BUCKS.items(), strict=True):
        world.add("bucks", buck=buck, name=called(name), age=age, age_year=2025)
    for n, (name, place) in enumerate(AREAS.items()):
        shape = {"circle": [*at(*place), 60]}
        world.add("areas", area=ids("a", n), name=called(name), kind="bedding", shape=shape)
    middle = date(2025, 10, 20)
    hung = [
        world.camera("CAM01", (120, 0), FIRST, middle, deployment=ids("d", 0)),
        world.camera("CAM01", (120, 0), middle + timedelta(1), LAST, deployment=ids("d", 1)),
        world.camera("CAM02", (400, 120), FIRST, LAST, deployment=ids("d", 2)),
    ]
    for i in range(36):
        day, who = FIRST + timedelta(days=i + 1), bucks[i % 3]
        east = hung[0] if day <= middle else hung[1]
        world.seen(who, east, f"{day} 07:05", travel_deg=268.0)
        world.seen(None if i % 5 == 0 else who, east, f"{day} 16:50", travel_deg=92.0)
        # Two cameras, two bucks, one moment.
        world.seen(bucks[(i + 1) % 3], hung[2], f"{day} 16:50", travel_deg=80.0 if i % 2 else 260.0)
    for n, (name, place) in enumerate({"East pine": (200, 12), "North rock": (60, 190)}.items()):
        lat, lon = at(*place)
        shape = json.dumps({"type": "Point", "coordinates": [lon, lat]})
        world.add("places", place=ids("p", n), name=name, kind="stand", shape=shape)
    for n in range(8):
        made = (date(2025, 10, 5), date(2025, 10, 30))
        where_to = (90 + 24.0 * n, 3.0 * (n % 3))
        world.sign("rub", where_to, LAST, made, 90.0 + n, sign=ids("s", n))
    return world


def _dealt(session: Session, seed: int) -> Session:
    """The same rows in the tables in another order, as a database with threads may give them."""
    for table in ("detections", "area_pairs", "sign_pairs", "area_signs", "made_windows", "areas"):
        rows = session.con.execute(f"SELECT * FROM {table}").df()
        order = np.random.default_rng(seed).permutation(len(rows))
        session.con.register("dealt", rows.iloc[order])
        session.con.execute("CREATE OR REPLACE TEMP TABLE kept AS SELECT * FROM dealt")
        session.con.execute(f"DELETE FROM {table}")
        session.con.execute(f"INSERT INTO {table} BY NAME SELECT * FROM kept")
        session.con.unregister("dealt")
    return session


def _answers(session: Session, ids: Ids) -> dict[str, str]:
    """What is said to every question, by its name; ids stand as the names of what they mean."""
    scope = scope_of(session)
    sky = typed_sky("W", 4.0, 0.5)
    found: dict[str, Any] = {
        "visits": visits(session, scope),
        "by camera": visits(session, scope, "camera"),
        "compare": compare(session, scope),
        "tonight": tonight(session, date(2025, 11, 7), sky),
        "hang next": hang_next(session, date(2025, 11, 7)),
        "maker": makers(session, scope, ids("s", 3)),
    }
    for area in AREAS:
        here = scope_of(session, areas=[area])
        found |= {
            f"bedding {area}": bedding(session, here),
            f"rivals {area}": rivals(session, here),
        }
    for buck in BUCKS:
        found[f"where {buck}"] = where(session, scope_of(session, bucks=[buck]), date(2025, 11, 14))
    said = {name: repr(asdict(one)) for name, one in found.items()}
    said["lines"] = repr(sign_lines(session, doubtful=True))
    for letter, many in (("b", BUCKS), ("a", AREAS), ("d", "123"), ("p", "12"), ("s", "12345678")):
        for n in range(len(many)):
            said = {k: v.replace(ids(letter, n), f"<{letter}{n}>") for k, v in said.items()}
    return said


@pytest.mark.thorough
@pytest.mark.parametrize("ids", [upward, downward])
def test_other_ids_or_rows_in_another_order_change_no_answer(ids: Ids) -> None:
    first = _answers(_world(upward).session(), upward)
    again = _answers(_dealt(_world(ids).session(), 3), ids)
    assert [name for name in first if first[name] != again[name]] == []
    assert any(f"most likely {buck}" in first["tonight"] for buck in BUCKS)
    assert all(area in first["compare"] for area in AREAS)


def test_a_new_name_moves_no_odds() -> None:
    def said(called: Callable[[str], str]) -> list[tuple[Any, ...]]:
        session = _world(upward, called).session()
        found = bedding(session, scope_of(session, areas=[called("Hemlock Bench")]))
        return sorted((b.buck_id, b.days_bedded, b.one_day) for b in found.bucks)

    assert said(str) == said(lambda name: name[::-1].title())
