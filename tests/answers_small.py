"""A small logbook made by hand, and every answer to it as JSON: what test_answers_small.py keeps.

Four weeks at two bedding areas, 2025-10-20 to 2025-11-16. The model of beds is put aside for twenty
courses written down by hand (`beds_by_hand`), so that nothing here hangs on random draws of it.

`python tests/answers_small.py --write` writes the kept answers anew after a change of what is said.
Look at the difference before you commit it, and work the numbers that changed by hand.
"""

from __future__ import annotations

import dataclasses
import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
from answers_world import HOME, TZ, World, at

from camsign.answers import beds_known
from camsign.answers.bedding import bedding
from camsign.answers.beds_input import BedsInput, read_season
from camsign.answers.calendar import calendar
from camsign.answers.compare import compare
from camsign.answers.ground import ground, pictured
from camsign.answers.lately import lately
from camsign.answers.makers import makers
from camsign.answers.near import near
from camsign.answers.result import plain
from camsign.answers.rivals import rivals
from camsign.answers.scope import against, scope_of
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.answers.where import where
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.stats.beds import Beds

KEPT = Path(__file__).with_name("answers_small.json")
FIRST, LAST = date(2025, 10, 20), date(2025, 11, 16)
COURSES = 20
BENCH, FORK, KNOB = "Hemlock Bench", "Alder Fork", "Far Knob"
SPLIT, HEN, BUTTON = "b-split-brow", "b-mud-hen", "b-button"


def beds_by_hand(_: Session, read: BedsInput) -> Beds:
    """Twenty courses: in course k the buck numbered b beds in the last area but b (counted
    round) on the first 4 + 2 b + k mod 5 days, then elsewhere; he keeps a bed with 0.8 a day."""
    e = read.evidence
    draws = np.full((COURSES, e.bucks, e.days), e.areas, dtype=np.uint8)
    for k in range(COURSES):
        for b in range(e.bucks):
            draws[k, b, : 4 + 2 * b + k % 5] = (e.areas - 1 - b) % e.areas
    states = np.arange(e.areas + 1)
    chance = (draws[..., None] == states).mean(axis=0)
    likes = np.arange(e.areas + 1, 0, -1.0)
    return Beds(
        draws=draws,
        chance=chance,
        keeps=np.full((COURSES, e.bucks), 0.8),
        likes=np.broadcast_to(likes / likes.sum(), (COURSES, e.bucks, e.areas + 1)),
        hidden=np.zeros((e.bucks, e.areas)),
        passes=np.zeros((e.bucks, len(e.cameras), 2)),
    )


def _cameras(world: World) -> tuple[str, ...]:
    """CAM01 hangs twice at the bench and failed for two nights; CAM03 and CAM04 hang at the fork,
    CAM04 inside it; CAM02 waits to be sorted on one night, CAM03 on another was set aside."""
    hung = (
        world.camera(
            "CAM01", (180, 0), FIRST, date(2025, 11, 2), [(date(2025, 10, 28), date(2025, 10, 29))]
        ),
        world.camera("CAM01", (190, 10), date(2025, 11, 5), LAST, deployment="d-CAM01b"),
        world.camera("CAM02", (-150, 60), date(2025, 10, 25), LAST),
        world.camera("CAM03", (1110, 0), date(2025, 11, 1), LAST),
        world.camera("CAM04", (1200, 10), date(2025, 11, 4), LAST),
    )
    tenth, twelfth = date(2025, 11, 10), date(2025, 11, 12)
    world.add("unsorted", deployment="d-CAM02", day=tenth, night=tenth, bursts=3, likely_empty=0)
    world.add("unsorted", deployment="d-CAM03", day=twelfth, night=twelfth, bursts=0,
              likely_empty=2)  # fmt: skip
    return hung


def _bucks(world: World) -> None:
    world.buck("Split Brow", 6.5)
    world.buck("Mud Hen", 3.5, year=2024)
    world.buck("Button", 1.5)
    world.buck("No Age")
    world.buck("Old Gone", 7.5, ended="shot 2025-11-08")


def _pictures(world: World, hung: tuple[str, ...]) -> None:
    """Sunrise is at about 7:10 to 6:40, sunset at about 17:50 to 16:15, the clocks go back on
    November 2: 6:50 is gray before that and day after it."""
    east, east_again, west, south, inside = hung
    for day in ("2025-10-21", "2025-10-22", "2025-10-24", "2025-10-27"):
        world.seen(SPLIT, east, f"{day} 06:50", travel_deg=268.0)
        world.seen(SPLIT, east, f"{day} 17:20", f"{day} 17:45", travel_deg=92.0)
    # One visit at two cameras within the half hour that parts visits; then one 31 minutes later.
    world.seen(SPLIT, west, "2025-10-26 21:00", "2025-10-26 21:30:30")
    world.seen(SPLIT, east, "2025-10-26 21:10")
    world.seen(SPLIT, west, "2025-10-26 22:02")
    world.seen(SPLIT, east_again, "2025-11-06 12:00", travel_deg=10.0)
    world.seen(SPLIT, east_again, "2025-11-07 06:30", travel_deg=85.0)
    world.seen(SPLIT, inside, "2025-11-13 12:10")
    world.seen(SPLIT, west, "2025-11-14 16:20", weak="file time")
    world.seen(SPLIT, west, "2025-11-15 03:00", doubt="the clock was reset")
    world.seen(SPLIT, west, "2025-11-15 23:00", sure="unsure")
    for n in range(6):
        day = date(2025, 11, 5) + timedelta(days=2 * n)
        world.seen(HEN, south, f"{day} 06:35", travel_deg=95.0)
        world.seen(HEN, inside, f"{day} 16:25", travel_deg=270.0)
        world.seen(HEN, west, f"{day} 20:15")
    world.seen(HEN, west, "2025-10-28 16:45", "2025-11-10 05:00")
    world.seen(BUTTON, south, "2025-11-03 13:00", "2025-11-09 13:00")
    world.seen("b-no-age", east, "2025-10-23 19:00", "2025-11-01 07:30")
    world.seen("b-old-gone", west, "2025-10-30 17:30", "2025-11-04 06:10", "2025-11-09 12:00")
    world.seen(None, east, "2025-10-22 17:30", "2025-10-25 18:00")
    world.seen(None, south, "2025-11-02 16:10", "2025-11-06 22:00", "2025-11-06 22:20")
    world.seen(None, west, "2025-10-27 07:00", sex="female")
    world.seen(None, west, "2025-10-27 07:01", sex="female", stage="juvenile")
    world.seen(None, south, "2025-11-08 09:00", sex="female", count=2)
    world.seen(None, south, "2025-11-08 10:00", species="moose")


def _signs(world: World) -> None:
    """Rubs that lead out on four sides of the bench and in on one; beds of all kinds; a scrape."""
    world.add("habits", habit="h-low", name="rubs low", buck=HEN)
    made, seen = (date(2025, 10, 15), date(2025, 10, 28)), date(2025, 10, 28)
    sides = ((100, 0, 90.0), (0, 110, 0.0), (-120, 0, 270.0), (0, -130, 180.0))
    for n, (east, north, travel) in enumerate(sides):
        for m in range(3):
            place = (east + 4 * m, north + 3 * m)
            world.sign("rub", place, seen, made, travel, sign=f"s-out-{n}{m}")
    world.sign("rub", (90, 90), seen, made, 225.0, sign="s-in",
               measures={"tree_m": 0.12, "top_m": 1.1})  # fmt: skip
    world.rows["signs"][-1]["habit"] = "h-low"
    world.sign("rub", (700, 0), seen, made, 90.0, sign="s-ring")
    world.sign("rub", (1100, 30), date(2025, 11, 8), (date(2025, 11, 3), date(2025, 11, 8)), 80.0,
               sign="s-fork", state="fresh")  # fmt: skip
    world.sign("scrape", (1130, 20), date(2025, 11, 12), (date(2025, 11, 9), date(2025, 11, 12)),
               sign="s-scrape", state="fresh")  # fmt: skip
    for n, whose in enumerate(("buck", "doe", None)):
        world.sign("bed", (20 * n, -20), seen, made, sign=f"s-bed-{n}", bed_of=whose)
    winter = (date(2026, 1, 5), date(2026, 2, 20))
    world.sign("bed", (30, 30), date(2026, 3, 1), winter, sign="s-bed-winter")
    old = (date(2024, 10, 10), date(2024, 10, 20))
    world.sign("rub", (60, 0), date(2024, 10, 20), old, 90.0, sign="s-old")
    line = [at(east, 0)[::-1] for east in (-100, 100, 400, 900)]
    world.add("walks", walk="w-1", name="ridge", shape=json.dumps(
        {"type": "LineString", "coordinates": line}))  # fmt: skip


def small() -> Session:
    """Make the logbook and open it."""
    settings = Settings(id="w", tz=TZ, home=HOME, phases={"rut": ((11, 5), (11, 24))})
    world = World(settings)
    _bucks(world)
    world.area(BENCH, (0, 0), 80)
    world.area(FORK, (1200, 0), 60, kind="feeding")
    world.area(KNOB, (5000, 0), 80)
    _pictures(world, _cameras(world))
    _signs(world)
    world.rows["deployments"][3]["facing_deg"] = 45.0
    lat, lon = at(200, 12)
    point = json.dumps({"type": "Point", "coordinates": [lon, lat]})
    world.add("places", place="p-pine", name="East pine", kind="stand", shape=point)
    return world.session()


@contextmanager
def by_hand() -> Iterator[None]:
    """Put the courses written down by hand in the place of the model's."""
    with mock.patch.object(beds_known, "_kept", beds_by_hand):
        yield


def _arrays(value: Any) -> Any:
    if dataclasses.is_dataclass(value):
        return {f.name: _arrays(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, np.ndarray):
        return [list(map(int, x)) for x in np.argwhere(value)] if value.dtype == bool else (
            value.tolist()
        )  # fmt: skip
    return value


def answers(session: Session) -> dict[str, Any]:
    """Give every answer by the words of its question, as `--json` prints it."""
    bench, fork = (scope_of(session, areas=[name]) for name in (BENCH, FORK))
    everywhere = scope_of(session)
    of_split = scope_of(session, ["split brow"])
    does = scope_of(session, who="does")
    read = read_season(session, everywhere, everywhere.first, everywhere.last)
    given: dict[str, Any] = {
        "visits": visits(session, everywhere),
        "visits by camera": visits(session, scope_of(session, ["Mud Hen"]), "camera"),
        "visits by month": visits(session, of_split, split="month"),
        "visits by phase": visits(session, of_split, split="phase"),
        "visits against": visits(
            session, bench, against=against(session, bench, "2025-10-20..2025-10-31")
        ),
        "visits against the fork": visits(
            session, bench, against=against(session, bench, "Alder Fork")
        ),
        "visits of the fork against": visits(
            session, fork, against=against(session, fork, "Hemlock Bench")
        ),
        "visits everywhere against": visits(
            session, everywhere, against=against(session, everywhere, "2025-11-01..2025-11-09")
        ),
        "visits of does": visits(session, does),
        "when": when(session, scope_of(session, ["split brow"], [BENCH]), band=False),
        "when never": when(session, scope_of(session, ["button"], [BENCH]), band=False),
        "bedding": bedding(session, bench, days=True),
        "bedding fork": bedding(session, fork, days=True),
        "bedding knob": bedding(session, scope_of(session, areas=[KNOB])),
        "rivals": rivals(session, bench),
        "rivals fork": rivals(session, fork, pairs=False),
        "compare": compare(session, everywhere),
        "compare does": compare(session, does),
        "where": where(session, of_split, date(2025, 10, 22)),
        "where ahead": where(session, of_split, date(2025, 11, 19)),
        "where gone": where(session, scope_of(session, ["old gone"])),
        "lately": lately(session, everywhere, until=date(2025, 11, 13)),
        "lately then": lately(session, everywhere, 3, date(2025, 10, 24)),
        "near": near(session, everywhere, ["rub"], 75.0, 2),
        "near fork": near(session, fork),
        "maker": makers(session, everywhere, "s-in"),
        "maker of the scrape": makers(session, everywhere, "s-scrape"),
        "maker of old": makers(session, everywhere, "s-old"),
        "calendar": calendar(session, bench),
        "pictured": pictured(session, of_split),
        "ground": ground(session),
        "ground of days": ground(session, scope_of(session, first=LAST, last=LAST)),
    }
    said = {k: one.to_json() if hasattr(one, "to_json") else plain(one) for k, one in given.items()}
    assert read is not None
    said["evidence"] = _arrays(read.evidence) | {
        "bucks": list(read.bucks.names), "ends": _arrays(read.ends), "first": f"{read.first}",
    }  # fmt: skip
    for one in said.values():
        if isinstance(one, dict):
            one.pop("method", None)
    return json.loads(json.dumps(said))


def written(said: Any, depth: int = 3) -> str:
    """Write JSON with a line for each answer, field and row."""
    if not depth or not isinstance(said, dict | list) or not said:
        return json.dumps(said, ensure_ascii=False)
    named = isinstance(said, dict)
    parts = [
        (f"{json.dumps(x, ensure_ascii=False)}: " if named else "")
        + written(said[x] if named else x, depth - 1)
        for x in said
    ]
    first, last = "{}" if named else "[]"
    return f"{first}\n" + ",\n".join(parts) + f"\n{last}"


if __name__ == "__main__" and "--write" in sys.argv:
    with by_hand():
        found = answers(small())
    KEPT.write_text(written(found) + "\n", encoding="utf-8")
