"""Pictures that nobody has looked at: no absence, in no answer."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from answers_world import World
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows, say

from camsign.answers.bedded import said_of
from camsign.answers.bedding import bedding
from camsign.answers.compare import compare
from camsign.answers.compared import Compare
from camsign.answers.makers import makers
from camsign.answers.reach import Watching, reach_of, watching_of
from camsign.answers.result import Figure, Watch
from camsign.answers.rivals import KnownRival, Rivals, rivals
from camsign.answers.scope import scope_of
from camsign.answers.visits import VisitRow, Visits, visits
from camsign.answers.when import when
from camsign.answers.where import where
from camsign.derive.opening import open_logbook
from camsign.logbook.edits import SetFields, Subject, TagFrames, UntagFrames
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.units import counted

MORNING = datetime(2025, 9, 3, 7, tzinfo=UTC)


@pytest.fixture
def home(tmp_path: Path) -> Folder:
    """A camera in an area, with a picture at noon on each of twenty days and one an hour later."""
    home = book(tmp_path / "b")
    shots = [Shot(f"2025-09-{d:02d}T{h}:00:00") for d in range(1, 21) for h in (12, 13)]
    put_card(home, "k", "CAM1", shots)
    circle = {"name": "Knob", "kind": "bedding", "shape": {"circle": [44.1, -71.2, 50]}}
    say(home, hang("CAM1", "2025-09-01T00:00:00Z"), SetFields("area", "a-1", circle))
    return home


def watching(home: Folder) -> Watching:
    with open_logbook(home) as session:
        scope = scope_of(session, areas=["Knob"])
        return watching_of(session, scope, reach_of(session, scope))[0]


def frames_of(home: Folder, *days: int) -> list[str]:
    found = rows(home, "SELECT frame FROM frame_times WHERE day(day) IN (SELECT unnest(?))", days)
    return [frame for (frame,) in found]


@pytest.mark.thorough
def test_a_night_with_pictures_nobody_sorted_is_no_watch(home: Folder) -> None:
    none = watching(home)
    assert (len(none.nights), len(none.days)) == (0, 0)
    assert len(none.unsorted) == 19
    assert "19 of 19 nights aren't sorted, so they don't count yet" in none.summary().in_words()
    say(home, TagFrames(Subject("nothing"), frames_of(home, 3, 4, 5, 6)))
    some = watching(home)
    assert [str(x) for x in some.nights] == [f"2025-09-0{d}" for d in (3, 4, 5, 6)]
    assert [str(x) for x in some.days] == [f"2025-09-0{d}" for d in (3, 4, 5, 6)]
    assert len(some.unsorted) == 15


@pytest.mark.thorough
def test_one_picture_of_two_is_not_enough(home: Folder) -> None:
    say(home, TagFrames(Subject("nothing"), frames_of(home, 3)[:1]))
    assert len(watching(home).nights) == 0


@pytest.mark.thorough
def test_what_is_unsorted_follows_tags_step_by_step(home: Folder) -> None:
    say(home, TagFrames(Subject("animal", species="deer", sex="female"), frames_of(home, 3, 9)))
    step = derived(home)["unsorted"]
    assert len(step) == 18 and step == rebuilt(home)["unsorted"]
    say(home, SetFields("deployment", "d-CAM1", {"gone": True}))
    assert derived(home)["unsorted"] == [] == rebuilt(home)["unsorted"]


@pytest.mark.thorough
@pytest.mark.parametrize("area", [True, False])
def test_tagged_pictures_are_said_where_the_rest_is_not_sorted(home: Folder, area: bool) -> None:
    split = SetFields("buck", "b-1", {"name": "Split Brow"})
    say(home, split, TagFrames(Subject("buck", "b-1"), frames_of(home, 3)[:1]))
    if not area:
        say(home, SetFields("area", "a-1", {"gone": True}))
    with open_logbook(home) as session:
        answer = visits(session, scope_of(session))
        told = " ".join([answer.said, *answer.why])
        bed = bedding(session, scope_of(session, areas=["Knob"])) if area else None
    assert answer.said == "No rate yet: 1 picture of Split Brow on 1 day; 39 others are not sorted."
    assert "no buck with a name" not in told
    assert bed is None or "no buck with a name" not in " ".join(bed.why)


def test_no_answer_reads_unsorted_pictures_as_absence(home: Folder) -> None:
    """He is tagged on one night and the rest waits: `when`, `rivals` and `makers` say just that."""
    say(
        home,
        SetFields("buck", "b-1", {"name": "Split Brow"}),
        TagFrames(Subject("buck", "b-1"), frames_of(home, 5)[:1]),
        SetFields("sign", "s-1", {"kind": "rub", "lat": 44.1001, "lon": -71.2001}),
        SetFields("sighting", "t-1", {"sign": "s-1", "seen_on": "2025-09-18", "state": "fresh"}),
    )
    tagged = "1 picture of Split Brow on 1 day; 39 others are not sorted"
    with open_logbook(home) as session:
        knob = scope_of(session, areas=["Knob"])
        his = when(session, scope_of(session, ["Split Brow"], areas=["Knob"]))
        many = rivals(session, knob)
        maker = makers(session, scope_of(session), "s-1")
    assert his.said == f"Can't tell yet when Split Brow is at Knob: {tagged}."
    ageless = "Split Brow came, but he has no age yet: give him one."
    assert many.said == f"Can't tell yet how many use Knob: {tagged}. {ageless}"
    assert maker.verdict.startswith("can't tell yet: 15 of 15 nights aren't sorted")
    for answer in (his, many, maker):
        assert "absence" not in " ".join([answer.said, *answer.why])


@pytest.mark.thorough
def test_a_tag_counts_the_days_of_its_burst_anew_also_past_midnight(tmp_path: Path) -> None:
    home = book(tmp_path / "b")
    late = ["03T23:59:56", "04T00:00:02", "04T00:00:08", "04T00:00:40", "05T07:00:00"]
    frames = put_card(home, "k", "CAM1", [Shot(f"2025-09-{shown}") for shown in late])
    say(home, hang("CAM1", "2025-09-01T00:00:00Z"))
    days = "SELECT day(day), bursts FROM unsorted ORDER BY day"
    assert rows(home, days) == [(3, 1), (4, 1), (5, 1)]
    for frame, left in ((2, [(4, 1), (5, 1)]), (3, [(5, 1)]), (4, [])):
        say(home, TagFrames(Subject("nothing"), [frames[frame]]))
        assert rows(home, days) == left
        assert derived(home)["unsorted"] == rebuilt(home)["unsorted"]
    for frame, left in ((3, [(4, 1)]), (2, [(3, 1), (4, 1)])):
        say(home, UntagFrames(None, [frames[frame]]))
        assert rows(home, days) == left
    assert derived(home)["unsorted"] == rebuilt(home)["unsorted"]


@pytest.mark.parametrize(("waiting", "told"), [(3, False), (4, True)])
def test_where_most_nights_wait_nobody_is_said_to_be_missing(waiting: int, told: bool) -> None:
    """The nights that count are then the ones with hardly a picture."""
    watch = Watch(("CAM1",), 11, 11, date(2025, 9, 1), date(2025, 9, 23), waiting)
    none = Figure(0.0, 0.0, 1.0)
    use = Rivals("Knob", "a-1", (), 0, none, none, None, none, (), watch, "", ())
    wait = f"{waiting} of {waiting + 11} nights aren't sorted"
    assert use.said.startswith(f"Can't tell yet how many use Knob: {wait}") is told
    assert Visits((), {"Knob": watch}, "", ()).said.startswith(f"Can't tell: {wait}") is told


@pytest.mark.parametrize("waiting", [0, 1, 3])
def test_a_few_nights_that_wait_are_told_beside_each_absence(waiting: int) -> None:
    """With half of the nights unsorted it said that no mature buck was there, and nothing else."""
    watch = Watch(("CAM1",), 11, 11, date(2025, 9, 1), date(2025, 9, 23), waiting)
    none, nobody = Figure(0.0, 0.0, 1.0), Figure(0.0, 0.0, 0.0)
    use = Rivals("Knob", "a-1", (), 0, nobody, none, None, none, (), watch, "", ())
    said = [
        use.said,
        Visits((), {"Knob": watch}, "", ()).said,
        Visits((), {"Knob": watch, "Bench": watch}, "", ()).said,
        compared(watch).said,
        said_of("not shown", "x", [], watch),
        said_of("not enough watch", "9 days, too few to say", [], watch),
    ]
    verb = "isn't" if waiting == 1 else "aren't"
    wait = f"{waiting} of {counted(waiting + 11, 'night')} {verb} sorted, so "
    both = f"{waiting} of {waiting + 11} nights at Knob and {waiting} of {waiting + 11} at Bench "
    assert (f"{both}aren't sorted, so " in said.pop(2)) is (waiting > 0)
    assert [wait in one for one in said] == [waiting > 0] * len(said)
    assert ("Probably no mature buck bedded here" in use.said) is (waiting == 0)


def compared(watch: Watch) -> Compare:
    return Compare((), {"Knob": watch}, "", ())


def test_a_buck_without_an_age_is_named_where_mature_ones_are_counted() -> None:
    """It said that no mature buck was in pictures, though an old one waited for his age."""
    watch = Watch(("CAM1",), 30, 30, date(2025, 9, 1), date(2025, 9, 30))
    none = Figure(0.0, 0.0, 0.0)
    one = Rivals("Knob", "a-1", (), 0, none, none, None, none, (), watch, "", (), None, ("Heron",))
    assert one.said == (
        "Can't tell yet how many mature bucks use Knob: Heron came, but he has no age yet: give "
        "him one."
    )
    known = KnownRival("Old Quarrel", "b-2", 3, 4, none, MORNING, MORNING)
    two = replace(one, known=(known,), minimum=1, ageless=("Fork", "Heron"))
    assert two.said.startswith("At least 1 mature buck uses Knob: Old Quarrel. ")
    assert two.said.endswith("Fork and Heron came, but they have no age yet: give them one.")


@pytest.mark.thorough
def test_where_speaks_of_the_pictures_that_wait(home: Folder) -> None:
    """With nothing tagged it said that no camera covered a day of the season."""
    say(home, SetFields("buck", "b-1", {"name": "Split Brow"}))
    with open_logbook(home) as session:
        none = where(session, scope_of(session, ["Split Brow"]))
    assert none.said == (
        "Can't tell where Split Brow beds: the pictures are in, but not sorted. Sort them first."
    )
    say(home, TagFrames(Subject("nothing"), frames_of(home, *range(2, 12))))
    with open_logbook(home) as session:
        some = where(session, scope_of(session, ["Split Brow"]))
    assert some.said == (
        "Can't tell where Split Brow beds: 9 of 19 nights aren't sorted, so they don't count "
        "yet. Sort them first."
    )
    for answer in (none, some):
        assert "no camera" not in " ".join([answer.said, *answer.why])


@pytest.mark.parametrize(("waiting", "told"), [(1, False), (9, True)])
def test_an_answer_that_what_waits_may_turn_around_says_so(waiting: int, told: bool) -> None:
    """It told where he was most often, while the pictures of another place were not looked at."""
    sorted_ = Watch(("CAM1",), 30, 30, date(2025, 9, 1), date(2025, 9, 30))
    watch = {"Knob": sorted_, "Bench": replace(sorted_, nights_unsorted=waiting)}
    but = (
        f"But {waiting} of {waiting + 30} nights at Bench aren't sorted, so they don't count yet. S"
    )
    row = visit_row(5)
    assert (but in Visits((row,), watch, "", ()).said) is told
    two = Visits((row, replace(row, buck="Fork", buck_id="b-2")), watch, "", ())
    assert two.said.startswith("Nobody stands out: ") and (but in two.said) is told


def visit_row(visits: int) -> VisitRow:
    none = Figure(None, None, None)
    return VisitRow(
        buck="Split Brow", buck_id="b-1", area="Knob", area_id="a-1", visits=visits, nights_seen=3,
        nights_watched=30, on_watch=visits, per_100_nights=none, per_100_nights_poisson=none,
        trend=none, day=visits, gray=0, dark=0, shooting_light=none, daylight=none,
        days_between_median=none, first_seen=None, last_seen=None, unidentified=0, doubtful_time=0,
        weak_times=0, why=(),
    )  # fmt: skip


FIRST, LAST = date(2025, 9, 1), date(2025, 11, 9)


@pytest.fixture(scope="module")
def half_sorted() -> Session:
    """Of 70 nights 40 wait; he was seen on six of the others, and on one of those."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Knob", (0, 0), 80)
    hung = world.camera("CAM1", (100, 0), FIRST, LAST)
    for night in (FIRST + timedelta(days=i) for i in range(30, 70)):
        world.add("unsorted", deployment=hung, day=night, night=night, bursts=2)
    seen = [f"{FIRST + timedelta(days=2 + 4 * i)} 17:45" for i in range(6)]
    world.seen("b-split-brow", hung, *seen, f"{FIRST + timedelta(days=40)} 12:00")
    return world.session()


WAITS = "40 of 70 nights aren't sorted, so they don't count yet"


def test_no_odds_are_given_where_most_nights_wait(half_sorted: Session) -> None:
    """Odds came from the nights with hardly a picture: they were told as if those were all."""
    session, his = half_sorted, scope_of(half_sorted, ["Split Brow"], ["Knob"])
    found = when(session, his)
    assert found.said == (
        f"Can't tell yet when Split Brow is at Knob: {WAITS}. Sort them first. So far: 7 visits."
    )
    assert found.shooting_light_chance.value is None and found.by_part == () == found.best_spans
    often = visits(session, his)
    assert often.said == (
        f"Can't tell yet how often Split Brow comes: {WAITS}. Sort them first. So far: Split Brow "
        "7 visits."
    )
    (row,) = often.rows
    assert row.per_100_nights.value is None and row.per_100_nights_poisson.value is None
    assert row.trend.value is None and row.visits == 7


def test_no_rank_and_no_bed_are_told_where_most_nights_wait(half_sorted: Session) -> None:
    knob = scope_of(half_sorted, areas=["Knob"])
    assert compare(half_sorted, knob).said == f"Can't tell yet: {WAITS}. Sort them first."
    many = rivals(half_sorted, knob)
    assert many.said.startswith("At least 1 mature buck uses Knob: Split Brow. ")
    assert many.said.endswith(f"Can't tell yet how many bed here: {WAITS}. Sort them first.")
    bed = bedding(half_sorted, knob)
    assert bed.verdict in ("possible", "not shown") and WAITS in bed.said
    lost = where(half_sorted, scope_of(half_sorted, ["Split Brow"]), date(2025, 10, 25))
    assert lost.places == ()
    assert lost.said == (
        "Can't tell where Split Brow bedded on 2025-10-25: 21 of the 21 nights covered in the "
        "last three weeks aren't sorted, so they don't count yet. Sort them first."
    )


def test_pictures_on_days_that_wait_are_named_beside_the_odds() -> None:
    """The tables said that he was never there in the rut, under his last picture of the rut."""
    world = World()
    world.buck("Split Brow", 5.5)
    world.area("Knob", (0, 0), 80)
    hung = world.camera("CAM1", (100, 0), FIRST, LAST)
    night = date(2025, 11, 7)
    world.add("unsorted", deployment=hung, day=night, night=night, bursts=2)
    world.seen("b-split-brow", hung, "2025-09-05 12:00", "2025-11-07 12:00")
    session = world.session()
    assert (
        "also pictured in shooting light on 2025-11-07, but part of that day isn't covered or "
        "sorted, so it doesn't count in the odds"
    ) in when(session, scope_of(session, ["Split Brow"], ["Knob"])).why


@pytest.mark.parametrize(
    ("watch", "words"),
    [
        (Watch(("C",), 20, 20, FIRST, LAST), "3 beds, but no picture shows a buck bedding here."),
        (Watch(("C",), 20, 20, FIRST, LAST, 9), "3 beds. Pictures can't say yet: 9 of 29 nights"),
        (Watch(("C",), 0, 0, None, None, hung=("C",)), "3 beds. Pictures can't say: no picture"),
        (Watch((), 0, 0, None, None, hung=()), "3 beds. Pictures can't say: no camera was up"),
    ],
)
def test_no_picture_speaks_against_a_bed_where_nobody_looked(watch: Watch, words: str) -> None:
    assert said_of("possible", "3 beds", [], watch).startswith(f"A buck may bed here: {words}")
