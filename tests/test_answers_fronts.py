"""Every answer as people and programs get it: words, JSON, CSV, DataFrames."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from answers_world import World

from camsign.api import Logbook
from camsign.cli import command as commands
from camsign.cli.app import run
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session

FIRST, LAST = date(2025, 10, 1), date(2025, 11, 9)
BENCH = "Hemlock Bench"


def _days(n: int, clock: str, start: int = 3, step: int = 3) -> list[str]:
    first = date(2025, 10, start)
    return [f"{first + timedelta(days=step * i)} {clock}" for i in range(n)]


@pytest.fixture(scope="module")
def session() -> Session:
    """Two mature bucks and a young one at a bench, a rub beside it, and a knob nobody watches."""
    world = World()
    for name, age in (("Split Brow", 5.5), ("Mud Hen", 4.5), ("Button", 1.5)):
        world.buck(name, age)
    world.area(BENCH, (0, 0), 80)
    world.area("Far Knob", (3000, 0), 80)
    hung = world.camera("CAM01", (180, 0), FIRST, LAST)
    world.seen("b-split-brow", hung, *_days(9, "07:10"), travel_deg=265.0)
    world.seen("b-split-brow", hung, *_days(9, "17:30"), travel_deg=100.0)
    world.seen("b-mud-hen", hung, *_days(6, "21:00", start=4))
    world.seen("b-button", hung, "2025-10-20 12:00")
    world.seen(None, hung, "2025-10-21 22:00")
    world.seen(None, hung, "2025-10-22 12:00", sex="female")
    made = (date(2025, 10, 1), date(2025, 10, 30))
    world.sign("rub", (150, 30), date(2025, 10, 30), made, 90.0, sign="s-rub")
    return world.session()


Show = Callable[..., str]


@pytest.fixture
def show(
    session: Session, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Show:
    """Run a command on that logbook and give what it prints."""

    @contextmanager
    def opened(_: Any) -> Iterator[Session]:
        yield session

    monkeypatch.setattr(commands, "logbook", opened)

    def command(*words: str, code: int = 0) -> str:
        assert run(list(words)) == code
        out = capsys.readouterr()
        return out.err if code else out.out

    return command


COMMANDS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "near": (
        ("near",),
        ("Split Brow", "a doe", "a buck without a name", "1 rub", "2025-10-03 07:10"),
    ),
    "visits": (("visits",), ("Split Brow", "40 nights covered", "1 visit by bucks without")),
    "by month": (
        ("visits", "--split", "month", "--buck", "Mud Hen"),
        ("October 2025", "November 2025", "no visit seen, so any rate up to"),
    ),
    "against": (
        ("visits", "--area", BENCH, "--against", "2025-10-01..2025-10-15"),
        ("ratio", "the rate of 2025-10-01..2025-10-15"),
    ),
    "when": (
        ("when", "Split Brow", BENCH),
        (
            "chance on a day",
            "Checked on 18 past days",
            "Last seen there 2025-10-27 17:30",
            "before sunset",
        ),
    ),
    "bedding": (
        ("bedding", BENCH),
        (
            f"{BENCH}: Split Brow beds here. He was caught going in",
            "Going out at dusk: past CAM01",
            "1 rub, 0 beds",
        ),
    ),
    "rivals": (
        ("rivals", BENCH),
        ("At least 2 mature bucks use", "bedded here at least once.", "Who gives way"),
    ),
    "makers": (("makers", "s-rub"), ("Split Brow", "a buck without a name", "him: 46 yd")),
    "compare": (("compare",), (BENCH, "Far Knob", "ot covered, or hardly any of it")),
    "lately": (("lately", "--to", "2025-10-30"), (BENCH, "Split Brow", "2025-10-30")),
    "sql": (("sql", "SELECT count(*) AS n FROM detections"), ("27",)),
}


@pytest.mark.thorough
@pytest.mark.parametrize("name", COMMANDS)
def test_words_json_and_csv_say_the_same(name: str, show: Show) -> None:
    words, expected = COMMANDS[name]
    text = show(*words, *([] if name == "sql" else ["--why"]))
    for part in expected:
        assert part in text, text
    given = json.loads(show(*words, "--json"))
    rows = list(csv.DictReader(io.StringIO(show(*words, "--csv"))))
    table = given[TABLES.get(name, "rows")]
    assert len(rows) == len(table) > 0
    assert all(None not in row.values() for row in rows)


@pytest.mark.thorough
@pytest.mark.parametrize("name", [name for name in COMMANDS if name != "sql"])
def test_an_answer_comes_first_and_its_reasons_are_few(name: str, show: Show) -> None:
    words, _ = COMMANDS[name]
    said = json.loads(show(*words, "--json"))["said"]
    short, whole = show(*words), show(*words, "--why")
    for text in (short, whole):
        assert text.splitlines()[0].endswith(said), text
    reasons = short.split("\nWhy\n")[1].splitlines()
    assert 1 <= len(reasons) - 1 <= 5 and reasons[-1].startswith("--why: ")
    assert "How this was figured: " in whole and "How this was figured" not in short


TABLES = {"when": "visits", "bedding": "bucks", "rivals": "known", "makers": "makers"}


@pytest.mark.parametrize("name", ["bedding", "rivals"])
def test_a_question_about_one_area_names_them(name: str, show: Show) -> None:
    told = show(name, code=2).splitlines()
    assert len(told) == 1 and "which area? One of" in told[0] and f'"{BENCH}"' in told[0]


@pytest.mark.thorough
def test_mature_is_a_bound_of_every_answer_that_asks_for_it(show: Show) -> None:
    old = json.loads(show("rivals", BENCH, "--mature", "5", "--json"))
    assert old["minimum"] == 1
    young = json.loads(show("rivals", BENCH, "--mature", "1", "--json"))
    assert young["minimum"] == 3
    # Days that are no season take the age of that season too.
    open_end = json.loads(show("rivals", BENCH, "--to", "2025-10-30", "--json"))
    assert open_end["minimum"] == 2


def test_a_ratio_to_days_on_which_he_was_never_seen(show: Show) -> None:
    (row,) = json.loads(
        show("visits", "--buck", "Split Brow", "--area", BENCH, "--against", "2025", "--json")
    )["rows"]
    assert row["ratio"]["value"] == pytest.approx(1, rel=0.02)
    words = ("visits", "--buck", "Split Brow", "--area", BENCH, "--json", "--against")
    (row,) = json.loads(show(*words, "2025-10-28..2025-11-09"))["rows"]
    assert row["ratio"]["value"] > 5
    assert row["ratio"]["low"] > 0.9
    (row,) = json.loads(show(*words, "Far Knob"))["rows"]
    assert row["ratio"]["value"] is None
    for row in json.loads(show("visits", "--against", BENCH, "--json"))["rows"]:
        itself = row["area"] == BENCH
        assert itself == (row["ratio"]["value"] is None and row["ratio"]["low"] is None)


def test_what_cannot_be_asked_is_said_in_one_line(show: Show) -> None:
    assert "visits are not split by 'moon'" in show("visits", "--split", "moon", code=2)
    assert "no phase" in show("visits", "--phase", "moon", code=2)
    assert "no area" in show("visits", "--against", "Nowhere Hill", code=2)


def test_without_rows_the_header_stays(show: Show) -> None:
    head = show("visits", "--season", "2019", "--csv").splitlines()
    assert len(head) == 1
    assert {"buck", "visits", "per_100_nights", "per_100_nights_high", "why"} <= set(
        head[0].split(",")
    )


@pytest.fixture
def book(session: Session, monkeypatch: pytest.MonkeyPatch) -> Logbook:
    @contextmanager
    def opened(_: Logbook) -> Iterator[Session]:
        yield session

    monkeypatch.setattr(Logbook, "session", opened)
    return Logbook(Folder(Path("nowhere")))


@pytest.mark.thorough
def test_every_answer_is_a_dataframe(book: Logbook) -> None:
    frames: dict[str, pd.DataFrame] = {
        "near": book.near(),
        "visits": book.visits(split="month"),
        "when": book.when("Split Brow", BENCH),
        "bedding": book.bedding(BENCH),
        "rivals": book.rivals(BENCH),
        "makers": book.makers("s-rub"),
        "compare": book.compare(),
        "lately": book.lately(days=40),
    }
    for name, frame in frames.items():
        assert len(frame), name
        assert {"method", "why", "watch"} <= set(frame.attrs), name
    assert frames["bedding"].attrs["answer"]["verdict"] == "confirmed"
    assert frames["rivals"].attrs["answer"]["minimum"] == 2
    assert frames["when"].attrs["answer"]["shooting_light_chance"]["value"] > 0.1
    assert frames["compare"]["area"].tolist() == [BENCH, "Far Knob"]
    assert book.sql("SELECT count(*) AS n FROM areas")["n"].tolist() == [2]
    against = book.visits("Split Brow", BENCH, against="..2025-10-15")
    assert against["ratio_low"].item() < against["ratio"].item() < against["ratio_high"].item()
    empty = book.visits(season=2019)
    assert empty.empty and "per_100_nights_low" in empty.columns
