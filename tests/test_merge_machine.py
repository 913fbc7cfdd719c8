"""Three logbooks, random words, random exchanges in any order: all come to say the same."""

from __future__ import annotations

import os
import shutil
import tempfile
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any
from unittest.mock import patch

import hypothesis.strategies as st
import made_cards as made
import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule, run_state_machine_as_test

from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.intake import ingest
from camsign.flows.upkeep.merge import merge
from camsign.logbook import folder, history
from camsign.logbook.edits import Edit, SetFields, Subject, TagFrames, UntagFrames
from camsign.logbook.folder import Folder
from camsign.logbook.things import TABLES

NAMES = st.sampled_from(["Umber", "Gap", "umber", "Wide Nine"])
FRAMES = [f"{i:016x}" for i in range(1, 5)]
BUCKS = st.sampled_from(["b-1", "b-2", "b-3"])
SQUARE = {"type": "Polygon", "coordinates": [[[-71.2, 44.1], [-71.2, 44.2], [-71.1, 44.1],
                                              [-71.2, 44.1]]]}  # fmt: skip
SUBJECTS = st.sampled_from(
    [Subject("animal", "b-1", species="deer"), Subject("animal", "b-2", species="deer"),
     Subject("nothing"), Subject("animal", species="coyote")]
)  # fmt: skip
FIELDS = st.one_of(
    st.builds(lambda b, n: SetFields("buck", b, {"name": n}), BUCKS, NAMES),
    st.builds(lambda b, n: SetFields("buck", b, {"merged_into": n}), BUCKS, BUCKS),
    st.builds(lambda b, g: SetFields("buck", b, {"gone": g}), BUCKS, st.booleans()),
    st.builds(
        lambda a, n: SetFields("area", a, {"name": n, "kind": "bedding", "shape": SQUARE}),
        st.sampled_from(["a-1", "a-2"]), NAMES,
    ),
    st.builds(
        lambda a, g: SetFields("area", a, {"gone": g}), st.sampled_from(["a-1", "a-2"]),
        st.booleans(),
    ),
    st.builds(
        lambda d, lat, day: SetFields("deployment", d, {
            "camera": "CAM03", "lat": lat, "lon": -71.2, "hung": f"2025-09-{day:02d}T12:00:00Z"}),
        st.sampled_from(["d-1", "d-2", "d-3"]), st.sampled_from([44.1, 44.1001, 44.2]),
        st.integers(1, 28),
    ),
)  # fmt: skip
PICKED = st.lists(st.sampled_from(FRAMES), min_size=1, max_size=3, unique=True)
EDITS: st.SearchStrategy[Edit] = st.one_of(
    FIELDS,
    st.builds(lambda s, f: TagFrames(s, f), SUBJECTS, PICKED),
    st.builds(lambda s, f: UntagFrames(s.key, f), SUBJECTS, PICKED),
    st.builds(lambda f: UntagFrames(None, f), PICKED),
)
WHO = st.integers(0, 2)
OFF = (timedelta(0), timedelta(days=365), timedelta(days=-3 * 365))
"""The clock of each device: right, a year ahead, three years back."""


class Friends(RuleBasedStateMachine):
    """Three friends of one property, each with a logbook and a clock of his own."""

    cards = False

    def __init__(self) -> None:
        super().__init__()
        self.home = Path(tempfile.mkdtemp())
        self.said: set[str] = set()
        os.environ["CAMSIGN_CACHE"] = str(self.home / "cache")
        os.environ["CAMSIGN_CONFIG"] = str(self.home / "config")

    @initialize()
    def start(self) -> None:
        first = folder.create(self.home / "0", made.TZ, (44.1, -71.2), "imperial")
        for i in (1, 2):
            shutil.copytree(first.root, self.home / str(i))
        self.books = [Folder(self.home / str(i)) for i in range(3)]

    def say(self, who: int, edits: list[Edit]) -> None:
        class Clock(datetime):
            @classmethod
            def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
                return datetime.now(tz) + OFF[who]

        clock = patch("camsign.logbook.journal.datetime", Clock)
        with clock, open_logbook(self.books[who]) as session:
            self.said.add(session.say("said", edits))

    @rule(who=WHO, edits=st.lists(EDITS, min_size=1, max_size=3))
    def say_something(self, who: int, edits: list[Edit]) -> None:
        self.say(who, edits)

    @rule(who=WHO, which=st.integers(0, 99))
    def take_back(self, who: int, which: int) -> None:
        with open_logbook(self.books[who]) as session:
            acts = [a for a in history.history(session) if not a.undone]
            if acts:
                history.undo(session, acts[which % len(acts)].act)

    @rule(who=WHO, other=WHO)
    def meet(self, who: int, other: int) -> None:
        if who != other:
            came = merge(self.books[who], self.books[other].root)
            assert came.left == []

    @rule(who=WHO, other=WHO, conflict=st.booleans())
    def sync(self, who: int, other: int, conflict: bool) -> None:
        """A sync service carries a writer's file over, or lays it down as a conflict copy."""
        ours, theirs = self.books[who], self.books[other]
        own = theirs.journal / f"{theirs.writer}.jsonl"
        if who == other or not own.exists():
            return
        name = f"{theirs.writer} (conflicted copy 2025-11-02).jsonl" if conflict else own.name
        ours.journal.mkdir(exist_ok=True)
        shutil.copy(own, ours.journal / name)

    @rule(who=WHO, card=st.integers(0, 1), camera=st.sampled_from(["CAM03", "F01"]))
    def load(self, who: int, card: int, camera: str) -> None:
        if not self.cards:
            return
        path = self.home / f"card{card}"
        if not path.exists():
            made.card(path, 2, first=10 * card)
        ingest(self.books[who], [path], camera=camera)

    def teardown(self) -> None:
        if hasattr(self, "books"):
            self.converge()
        shutil.rmtree(self.home, ignore_errors=True)

    def converge(self) -> None:
        for _ in range(2):
            for a, b in ((0, 1), (1, 2), (2, 0), (1, 0), (2, 1), (0, 2)):
                merge(self.books[a], self.books[b].root)
        for a, b in ((0, 1), (1, 2), (2, 0)):
            again = merge(self.books[a], self.books[b].root)
            assert (again.lines, again.cards, again.frames, again.left) == (0, 0, 0, [])
        warm = [state(book) for book in self.books]
        assert warm[0] == warm[1] == warm[2]
        for book in self.books:
            remove_database(book)
        assert [state(book) for book in self.books] == warm
        assert self.said <= {act for act, *_ in warm[0]["acts"]}


def state(book: Folder) -> dict[str, list[tuple[Any, ...]]]:
    cells = {"frames": "* EXCLUDE (file)", "conflicts": "kind, ids, remedy"}
    tables = [*TABLES.values(), "tags", "acts", "conflicts", "deployments", "frames", "detections"]
    with open_logbook(book) as session:
        con = session.con
        return {
            t: sorted(con.execute(f"SELECT {cells.get(t, '*')} FROM {t}").fetchall(), key=repr)
            for t in tables
        }


class FriendsWithCards(Friends):
    """They take cards in as well, some of them the same card under another camera's name."""

    cards = True


def run(machine: type[Friends], examples: int, steps: int) -> None:
    before = dict(os.environ)
    try:
        run_state_machine_as_test(
            machine,
            settings=settings(
                max_examples=examples, stateful_step_count=steps, deadline=None, database=None,
                derandomize=examples < 50, suppress_health_check=list(HealthCheck),
            ),
        )  # fmt: skip
    finally:
        os.environ.clear()
        os.environ.update(before)


def test_all_converge_after_one_run() -> None:
    run(Friends, examples=1, steps=8)


@pytest.mark.thorough
def test_all_converge_after_a_few_runs() -> None:
    run(Friends, examples=3, steps=12)


@pytest.mark.thorough
def test_all_converge_with_cards() -> None:
    run(FriendsWithCards, examples=2, steps=12)


@pytest.mark.long
def test_all_converge_after_many_runs() -> None:
    run(Friends, examples=150, steps=30)
    run(FriendsWithCards, examples=50, steps=30)
