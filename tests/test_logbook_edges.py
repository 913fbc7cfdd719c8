"""What the logbook takes and refuses, each limit at it and beside it."""

from __future__ import annotations

import errno
import json
import os
import tracemalloc
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest
from derive_world import Shot, book, hang, put_card, say

from camsign.derive import opening
from camsign.derive.opening import open_logbook
from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.logbook import (
    cardfacts,
    checked,
    checking,
    database,
    fields,
    folder,
    journal,
    let_go,
    lines,
    lock,
    measured,
    memory,
    moments,
    naming,
    placing,
    receipts,
    records,
    sealed,
    second_copies,
    shapes,
    values,
)
from camsign.logbook.edits import SetFields, Subject, TagFrames
from camsign.logbook.folder import config_home, stamp_of
from camsign.logbook.history import history, undo
from camsign.logbook.inside import OutsideError
from camsign.logbook.records import Detected
from camsign.logbook.settings import Settings
from camsign.units import parse_when

SETTINGS = Settings(id="w", tz="America/New_York")


def _refused(check: Callable[[Any], Any], value: Any, words: str) -> None:
    with pytest.raises(ValueError) as e:
        check(value)
    assert str(e.value) == words


def test_numbers_are_taken_up_to_their_ends() -> None:
    check = values.number(1, 5)
    assert [check(x) for x in (1, 5, 2.5)] == [1.0, 5.0, 2.5]
    for value in (0.999, 5.001, float("nan"), float("inf")):
        _refused(check, value, "is not between 1 and 5")
    for value in (True, "3", None, [1]):
        _refused(check, value, "needs to be a number from 1 to 5")
    assert values.whole(1, 5)(4.0) == 4
    _refused(values.whole(1, 5), 4.5, "needs to be a whole number")
    assert values.span(1, 7200)("30min") == 1800
    assert values.span(1, 7200)(90) == 90
    _refused(values.span(1, 7200), "3h", "is not between 1 and 7200")
    assert values.length(0.5, 1.5, "cm")("100cm") == values.length(0.5, 1.5, "cm")(100) == 1.0
    for value in (True, None, [1]):
        _refused(values.length(0.5, 1.5, "cm"), value, 'needs to be a length such as "100cm"')
    with pytest.raises(ValueError, match=r"^does not fit: "):
        values.span(1, 7200)("soon")


def test_words_days_and_places_of_settings() -> None:
    assert values.one_of("a", "b")("b") == "b"
    _refused(values.one_of("a", "b"), "c", "is none of a, b")
    assert (values.flag(True), values.flag(False)) == (True, False)
    _refused(values.flag, 1, "is neither true nor false")
    assert values.place([44, -71.5]) == (44.0, -71.5)
    for value in ([44], [44, -71, 3], "44, -71", [True, 1], ["44", 1]):
        _refused(values.place, value, "needs to be [LAT, LON], two numbers")
    with pytest.raises(ValueError, match=r"^does not fit: "):
        values.place([91, 0])
    assert values.inches(2, 39)([13, 13]) == (13.0, 13.0)
    _refused(values.inches(2, 39), [16, 13], "needs the smaller length first")
    assert values.month_day("2-29") == (2, 29)
    for value in ("02-30", "13-01", "x", 201, "٠١-٠١"):
        _refused(values.month_day, value, "needs to be a day such as 09-01 (month-day)")
    assert values.days(["09-01", "12-31"]) == ((9, 1), (12, 31))
    assert values.phases({"rut": ["11-05", "11-24"]}) == {"rut": ((11, 5), (11, 24))}
    _refused(values.phases, [], "needs to be a table")
    assert values.texts("a") == ("a",)
    assert values.texts(["a", "b"]) == ("a", "b")
    _refused(values.texts, ["a", 1], "needs to be a text or a list of texts")


ROW = {"words": ["worn"], "from": "09-01", "to": "10-01", "days": 7, "days_at_least": 0,
       "seasons": 1, "seasons_back": 10_000, "until_seen": True, "nothing": False, "standing": 1,
       "winter": {"days": 1}, "species": {"ash": {"days": 3}}}  # fmt: skip


def test_a_row_of_the_aging_table_is_checked_cell_by_cell() -> None:
    assert values.aging({"rub": {"fresh": ROW}}) == {"rub": {"fresh": ROW}}
    wrong = {
        "words": (3, "has a words that needs to be a text or a list of texts"),
        "from": (3, "has a from that needs to be a day such as 09-01 (month-day)"),
        "to": (3, "has a to that needs to be a day such as 09-01 (month-day)"),
        "days": (-1, "has a days that is not between 0 and 10000"),
        "seasons_back": (10_001, "has a seasons_back that is not between 0 and 10000"),
        "until_seen": (1, "has a until_seen that is neither true nor false"),
        "summer": ({"dayz": 1}, "has a summer that has 'dayz', which no row has"),
        "species": ({"ash": 3}, "has a species that has a species.ash that needs to be a table"),
        "dayz": (1, "has 'dayz', which no row has"),
    }
    wrong["species"] = ({"ash": 3}, "has a species.ash that needs to be a table")
    for name, (cell, words) in wrong.items():
        _refused(
            values.aging, {"rub": {"fresh": ROW | {name: cell}}}, f"has a rub.fresh that {words}"
        )
    _refused(values.aging, {"rub": 3}, "has a rub that needs to be a table")


def test_names_are_kept_clean_and_found_whatever_their_case() -> None:
    assert naming.cleaned("  Split \t Brow ", "buck") == "Split Brow"
    assert naming.cleaned("x" * 80, "buck") == "x" * 80
    for said, words in (
        (" ", "a buck needs a name"),
        ("x" * 81, f"the name {'x' * 30!r}… is longer than 80 characters"),
        ("a\u200bb", "the name 'a\\u200bb' holds characters that cannot be seen"),
        ("b-0123456789ab", "'b-0123456789ab' looks like an id and cannot be a name"),
    ):
        with pytest.raises(UsageError) as e:
            naming.cleaned(said, "buck")
        assert e.value.what == words
    known = {"b-1": "Split Brow", "b-2": "Mud Hen"}
    assert naming.find(known, "split  BROW", "buck") == "b-1"
    assert naming.find(known, "b-2", "buck") == "b-2"
    for said, remedy in (
        ("mud hem", "did you mean 'Mud Hen'?"),
        ("zz", "list them with: camsign buck list"),
    ):
        with pytest.raises(UsageError) as e:
            naming.find(known, said, "buck")
        assert (e.value.what, e.value.remedy) == (f"there is no buck {said!r}", remedy)
    # Where there is none yet, a list of them would be empty.
    for what, remedy in (
        ("buck", 'add him: camsign buck add "Old Quarrel"'),
        ("area", 'draw it: camsign area add "Old Quarrel" --at LAT,LON'),
    ):
        with pytest.raises(UsageError) as e:
            naming.find({}, " Old Quarrel", what)
        assert (e.value.what, e.value.remedy) == (f"there is no {what} 'Old Quarrel'", remedy)
    naming.refuse_taken(known, "mud hen", "buck", but="b-2")
    with pytest.raises(UsageError, match="already an area called 'Mud Hen'"):
        naming.refuse_taken(known, "mud hen", "area")
    with pytest.raises(UsageError, match="already a buck called 'Mud Hen'"):
        naming.refuse_taken(known, "mud hen", "buck", but="b-1")
    taken = {"rub", "rub 2"}
    assert (naming.free("Rub", taken), naming.free("Bed", taken)) == ("Rub 3", "Bed")
    assert naming.content_id("s", "a", "b") == naming.content_id("s", "a", "b") != (
        naming.content_id("s", "ab"))  # fmt: skip
    assert len(naming.content_id("s", "a")) == 14


def test_moments_to_utc_and_back() -> None:
    tz, day = "America/New_York", parse_when("2025-11-02")
    assert moments.start_of(day, tz) == datetime(2025, 11, 2, 4, tzinfo=UTC)
    # The day on which clocks go back has 25 hours.
    assert moments.end_of(day, tz) == datetime(2025, 11, 3, 5, tzinfo=UTC)
    hour = parse_when("2025-11-03 06:00")
    assert moments.end_of(hour, tz) == moments.start_of(hour, tz)
    assert moments.shown(datetime(2025, 11, 3, 11), tz) == "2025-11-03 06:00"
    assert moments.shown(None, tz) == "now"
    assert moments.season_of(date(2025, 7, 1), (7, 1)) == 2025
    assert moments.season_of(date(2025, 6, 30), (7, 1)) == 2024
    local = moments.local(datetime(2025, 11, 3, 11), tz)
    assert moments.as_text(local) == "2025-11-03T11:00:00Z"
    assert moments.stored(local) == datetime(2025, 11, 3, 11)


def test_shapes_are_areas_or_lines() -> None:
    ring = [[-71.0, 44.0], [-71.0, 44.1], [-70.9, 44.0], [-71.0, 44.0]]
    circle = {"circle": [44.0, -71.0, 80.0]}
    assert shapes.of_circle(shapes.to_area(circle)) == circle
    assert shapes.to_line(circle) == ((-71.0, 44.0),)
    corners = tuple(map(tuple, ring))
    assert shapes.to_area({"type": "Polygon", "coordinates": [ring]}).rings == (corners,)
    many = {"type": "MultiPolygon", "coordinates": [[ring], [ring]]}
    assert shapes.to_area(json.dumps(many)).rings == (corners, corners)
    assert shapes.to_line({"type": "Point", "coordinates": [1, 2]}) == ((1.0, 2.0),)
    line = {"type": "LineString", "coordinates": [[1, 2], [3, 4]]}
    assert shapes.to_line(line) == ((1.0, 2.0), (3.0, 4.0))
    with pytest.raises(UsageError, match="a LineString is no area"):
        shapes.to_area(line)
    with pytest.raises(UsageError, match="a shape is neither a point nor a path"):
        shapes.to_line({})


STAMP = "2025-11-01T12:00:00.000Z-00001"
LINE = {"v": 1, "writer": "w", "n": 1, "at": STAMP, "act": "a", "what": "x", "edits": []}


@pytest.mark.parametrize(
    ("key", "good", "bad"),
    [
        ("v", [1, 2, 1.0], [0, True, "1", 1.5, None]),
        ("n", [1, 10**9], [0, 10**9 + 1]),
        ("writer", ["w", "ü"], [1, None, "\ud800"]),
        ("at", [STAMP], ["2025-13-01T12:00:00.000Z-00001", "2025-11-01T12:00:00Z", 3]),
        ("edits", [[], [{}]], [{}, [1]]),
    ],
)
def test_the_envelope_of_a_line_holds_what_it_must(
    key: str, good: list[Any], bad: list[Any]
) -> None:
    for value in good:
        checked.check_envelope(LINE | {key: value})
    for value in bad:
        with pytest.raises(ValueError, match=rf"^left out: '{key}' is "):
            checked.check_envelope(LINE | {key: value})
    with pytest.raises(ValueError, match=rf"^left out: it has no '{key}'$"):
        checked.check_envelope({k: v for k, v in LINE.items() if k != key})
    with pytest.raises(ValueError, match=r"^left out: it has no 'v'$"):
        checked.check_envelope([])


GOOD_EDITS: list[dict[str, Any]] = [
    {"set": "area", "id": "a-1", "to": {"shape": {"circle": [44, -71, 80]}, "gone": None}},
    {"set": "deployment", "id": "d-1", "to": {"lat": 44, "hung": "2025-10-01T00:00:00Z"}},
    {"set": "deployment", "id": "d-1", "to": {"hung": "0002-01-01T00:00:00"}},
    {"set": "sighting", "id": "g-1", "to": {"seen_on": "9997-12-31", "measures": {"x": 1}}},
    {"set": "thing of a newer version", "id": "n", "to": {"any": object}},
    {"tag": {"what": "animal", "count": 0, "travel_deg": 3.5, "sure": None}, "frames": ["a"]},
    {"untag": None, "frames": []},
    {"undo": ["a"]},
    {"said by a newer version": 1},
]
BAD_EDITS: list[tuple[dict[str, Any], str]] = [
    ({"set": "area", "id": 3, "to": {}}, "'id' is 3"),
    ({"set": "area", "id": "a-1", "to": []}, "'to' is []"),
    ({"set": "area", "id": "a-1", "to": {"shape": {"type": "Point"}}}, "'to' is"),
    ({"set": "deployment", "id": "d-1", "to": {"lat": True}}, "'to' is {'lat': True}"),
    ({"set": "deployment", "id": "d-1", "to": {"lat": 1e300}}, "'to' is {'lat': 1e+300}"),
    ({"set": "deployment", "id": "d-1", "to": {"hung": "0001-01-01T00:00:00"}}, "'to' is"),
    ({"set": "sighting", "id": "g-1", "to": {"seen_on": "9998-01-01"}}, "'to' is"),
    ({"set": "sighting", "id": "g-1", "to": {"seen_on": "soon"}}, "'to' is"),
    ({"tag": {"what": 3}, "frames": []}, "'tag' is {'what': 3}"),
    ({"tag": {"what": "a", "count": -1}, "frames": []}, "'tag' is"),
    ({"tag": [], "frames": []}, "'tag' is []"),
    ({"tag": {"what": "animal"}, "frames": [1]}, "'frames' is [1]"),
    ({"tag": {"what": "animal"}}, "it has no 'frames'"),
    ({"undo": "a"}, "'undo' is 'a'"),
    ({"undo": ["x" * 99]} | {"undo": [3, "x" * 99]}, "…"),
]


def test_edits_are_taken_or_cost_their_line_alone() -> None:
    for edit in GOOD_EDITS:
        checked.check_edit(edit)
    for edit, words in BAD_EDITS:
        with pytest.raises(ValueError) as e:
            checked.check_edit(edit)
        assert str(e.value).startswith("left out: what it says cannot be (")
        assert words in str(e.value), (edit, str(e.value))
        assert len(str(e.value)) < 120


def test_what_is_missing_or_repeated_in_journals_is_named(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    path = home.journal / "w.jsonl"
    path.parent.mkdir(exist_ok=True)
    given = [journal.Line("w", n, STAMP, f"act{n}", "x", [], 1, 0) for n in (1, 2, 4, 7, 8, 9, 11)]
    path.write_bytes(b"".join(map(journal.encode, given)) + b"torn")
    twin = home.journal / "w-conflict.jsonl"
    other = journal.Line("w", 2, STAMP, "act2", "y", [], 1, 0)
    twin.write_bytes(journal.encode(given[0]) + journal.encode(other) + b"not a line\n")
    (home.journal / "notes.txt").write_text("hello")
    (home.journal / "folder").mkdir()
    journal.remember(home, {"w": 11})
    assert [f.what for f in checking.check_journals(home) if f.kind == "note"][2] == (
        "its last line is torn: it was never noted"
    )
    journal.remember(home, {"w": 13, "v": 1})
    found = [(f.kind, f.file, f.what) for f in checking.check_journals(home)]
    name, again = "journal/w.jsonl", "journal/w-conflict.jsonl"
    assert found == [
        ("note", "journal/folder", "is no file"),
        ("note", "journal/notes.txt", "is no journal; it was left out"),
        ("damage", f"{again}, line 3", "was changed: damaged: its checksum does not fit"),
        ("damage", name, f"says another thing in line 2 than {again}, under the same act"),
        ("note", name, f"1 line stands here and in {again}: counted once"),
        ("damage", "journal/v.jsonl", "1 line is gone that this machine had read: 1"),
        ("damage", name, "4 lines are missing: 3, 5 to 6, 10"),
        ("damage", name, "2 lines are gone that this machine had read: 12 to 13"),
    ]
    odd = lines.joined((n, n) for n in (11, 9, 1, 3, 5, 7))
    assert checking._spans(odd) == "1, 3, 5, 7, 9 and more"
    assert checking._spans(odd[:5]) == "1, 3, 5, 7, 9"
    assert lines.joined([(3, 3), (1, 2), (2, 3), (5, 6), (7, 7)]) == [(1, 3), (5, 7)]


def test_settings_that_do_not_fit_are_named(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    assert list(checking.check_settings(home)) == []
    toml = home.root / "logbook.toml"
    (home.root / "logbook (1).toml").write_text(toml.read_text().replace("3.5", "4.5"))
    (home.root / "logbook (2).toml").write_text(toml.read_text())
    toml.chmod(0o644)
    toml.write_text(toml.read_text().replace("reach_m = 200", "reach_m = true"))
    found = [(f.kind, f.file, f.what) for f in checking.check_settings(home)]
    assert [kind for kind, *_ in found] == ["note"] * 3
    assert "reach_m" in found[0][2]
    assert "mature_age" in found[1][2]
    assert found[2][2] == "is not read; logbook.toml is: it says the same"
    toml.write_text("id = ")
    assert [f.kind for f in checking.check_settings(home)] == ["damage"]
    toml.unlink()
    (one,) = checking.check_settings(home)
    assert (one.kind, one.what) == ("damage", "cannot be read (No such file or directory)")


def test_backups_are_said_by_their_age(tmp_path: Path) -> None:
    home, at = book(tmp_path / "book"), datetime(2025, 11, 1, 12, tzinfo=UTC)
    assert second_copies.words(home).startswith("This logbook has no backup")
    second_copies.note(home, second_copies.SecondCopy("/old", at - timedelta(days=9)))
    second_copies.note(home, second_copies.SecondCopy("/disk", at))

    def said(days: float, **more: Any) -> str:
        return second_copies.words(home, at + timedelta(days=days), **more)

    assert said(-1) == said(0) == said(0.999) == "Last backup today, in /disk."
    assert said(1) == said(1.999) == "Last backup yesterday, in /disk."
    assert said(2) == "Last backup 2 days ago, in /disk."
    assert said(0, new=True) == (
        "Last backup today, in /disk; these pictures are not in it yet: camsign backup"
    )
    second_copies.note(home, second_copies.SecondCopy("/disk", at, 1))
    assert said(0) == "Last backup today, in /disk, without 1 file."
    second_copies.note(home, second_copies.SecondCopy("/disk", at, 2))
    assert said(0).endswith("without 2 files.")
    assert [c.place for c in second_copies.known(home)] == ["/disk", "/old"]


def test_stamps_rise_whatever_the_clock_says() -> None:
    now = datetime(2025, 11, 1, 12, tzinfo=UTC)
    assert journal.next_stamp(now) == "2025-11-01T12:00:00.000Z-00000"
    assert (
        journal.next_stamp(now, "2025-11-01T12:00:00.000Z-00007")
        == "2025-11-01T12:00:00.000Z-00008"
    )
    assert journal.next_stamp(now, "2026-01-01T00:00:00.000Z-99998").endswith("000Z-99999")
    assert journal.next_stamp(now, "2026-01-01T00:00:00.000Z-99999") == (
        "2026-01-01T00:00:00.001Z-00000"
    )


@pytest.mark.parametrize(
    ("said", "rule"),
    [
        (" Hung", "hung"), ("LOCAL", "local"), ("-05:00", "-05:00"), ("−05:30", "-05:30"),
        ("+05:45", "+05:45"), ("+00:00", "+00:00"),
    ],
)  # fmt: skip
def test_clock_rules_have_one_spelling(said: str, rule: str) -> None:
    assert records.checked_rule(said) == rule
    for wrong in ("z", "noon", "5"):
        with pytest.raises(UsageError, match="is no clock rule"):
            records.checked_rule(wrong)


@pytest.mark.parametrize(
    ("lat", "rut", "early", "late"),
    [
        (None, (11, 5), (10, 4), (11, 25)), (44.0, (11, 5), (10, 4), (11, 25)),
        (39.0, (11, 5), (10, 4), (11, 25)), (38.99, (11, 10), (10, 9), (11, 30)),
        (34.0, (11, 10), (10, 9), (11, 30)), (33.99, (12, 3), (11, 1), (12, 23)),
        (0.0, (12, 3), (11, 1), (12, 23)),
    ],
)  # fmt: skip
def test_usual_phases_come_later_in_the_south(lat: float, rut: Any, early: Any, late: Any) -> None:
    found = values.usual_phases(lat)
    assert (found["rut"][0], found["early"][1], found["late"][0]) == (rut, early, late)
    assert (found["velvet"], found["late"][1]) == (((7, 1), (9, 5)), (1, 31))
    assert values.usual_phases(-0.1) == {}
    assert values.phases_toml({}) == '# "rut" = ["04-05", "04-25"]'
    assert '"rut" = ["11-05", "11-24"]' in values.phases_toml(values.usual_phases(None))


def test_receipts_that_are_none_are_named(tmp_path: Path) -> None:
    path = tmp_path / "receipt.json"
    one = receipts.Receipt("k", "CAM1", "test", "k", "2025-11-01T00:00:00Z", "x", 1, 1, 0)
    path.write_bytes(one.to_bytes())
    assert receipts.read(path) == one == receipts.read_if_whole(path)
    raw = json.loads(one.to_bytes())
    del raw["sum"]
    for change, words in (
        (["list"], "it is no receipt"),
        (raw | {"sum": "0"}, "its checksum does not fit"),
        (raw | {"camera": 3}, "'camera' is 3"),
        ({k: v for k, v in raw.items() if k != "card"}, "'card'"),
    ):
        path.write_text(json.dumps(change))
        with pytest.raises(ValueError, match=rf"^receipt\.json is damaged: {words}"):
            receipts.read(path)
        assert receipts.read_if_whole(path) is None
    path.write_text(json.dumps(raw | {"later": [1]}))
    assert receipts.read(path).more == {"later": [1]}


def test_sums_tell_what_is_whole(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x" * ((1 << 20) + 1))
    import hashlib

    sha = hashlib.sha256(path.read_bytes()).hexdigest()
    assert sealed.hash_of(path) == sha
    assert sealed.is_hash_of(sha, path)
    assert not sealed.is_hash_of("0" * 64, path)
    assert not sealed.is_hash_of(sha, tmp_path / "none")
    assert sealed.is_whole(path) is None
    key = sealed.KEY.encode()
    body = b"head" + key + b"\x18\x40" + sealed.BLANK.encode() + b"tail"
    data = body + len(body).to_bytes(4, "little") + b"PAR1"
    path.write_bytes(data)
    sealed.seal(path)
    assert sealed.is_whole(path) is True
    whole = path.read_bytes()
    assert len(whole) == len(data)
    path.write_bytes(b"hEad" + whole[4:])
    assert sealed.is_whole(path) is False
    # Up to four bits of the key itself may flip, and the sum behind it tells.
    for bits, found in ((0b1111, False), (0b11111, None)):
        path.write_bytes(whole[:4] + bytes([key[0] ^ bits]) + whole[5:])
        assert sealed.is_whole(path) is found


def test_turns_are_given_in_order_and_sleepers_are_passed_over(tmp_path: Path) -> None:
    line = tmp_path / "line"
    assert not lock._anybody(line)
    with lock._in_line(line) as first, lock._in_line(line) as second:
        place = min(line.iterdir())
        assert first()
        assert not second()
        assert lock._anybody(line)
        asleep = datetime.now(UTC).timestamp() - 3.5
        os.utime(place, (asleep, asleep))
        assert second()
        assert place.exists()
        forgotten = asleep - 3600
        os.utime(place, (forgotten, forgotten))
        assert second()
        assert not place.exists()
    assert not lock._anybody(line)
    with lock._in_line(line) as third:
        assert third()
    assert not lock._is_awake(line / "none")


def test_a_line_of_any_number_is_missed_in_little_memory() -> None:
    """A forged line may be its writer's billionth; numbers are counted in spans."""
    tracemalloc.start()
    found = list(checking._missing([("w", 10**9), ("w", 2), ("x", 1)], {"x": 3}, {}))
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert [(one.file, one.what) for one in found] == [
        ("journal/w.jsonl", "999999998 lines are missing: 1, 3 to 999999999"),
        ("journal/x.jsonl", "2 lines are gone that this machine had read: 2 to 3"),
    ]
    assert most < 1_000_000


def test_a_journal_that_is_another_file_is_read_anew(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    say(home, SetFields("area", "a-1", {"name": "Bench"}))
    (path,) = home.journal.glob("*.jsonl")
    with open_logbook(home) as s:
        assert not lines.outdated(s.con, home)
        kept = path.read_bytes()
        path.write_bytes(kept[:-2] + b"x\n")
        assert lines.outdated(s.con, home)
        path.write_bytes(kept + b"more\n")
        assert not lines.outdated(s.con, home)
        path.write_bytes(kept[:-1])
        assert lines.outdated(s.con, home)
        path.unlink()
        assert lines.outdated(s.con, home)
        assert stamp_of(path) == ""
        path.write_bytes(kept)
    words = lines._missing_words("w", 1, 4)
    assert words.startswith("1 line is missing of the 4 that writer w said; copy")
    assert lines._missing_words("w", 2, 4).startswith("2 lines are missing of the 4")


def test_what_was_said_is_listed_and_taken_back(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    frames = put_card(home, "k", "CAM1", [Shot("2025-10-01T12:00:00")])
    say(home, hang("CAM1", "2025-09-20T12:00:00Z"), what="hung")
    say(home, SetFields("buck", "b-1", {"name": "Brow"}), what="named")
    say(home, TagFrames(Subject("buck", "b-1"), frames), what="tagged")
    with open_logbook(home) as s:
        acts = history(s)
        assert [a.what for a in acts] == ["tagged", "named", "hung"]
        assert [a.what for a in history(s, 1)] == ["tagged"]
        assert [a.what for a in history(s, of="brow")] == ["tagged", "named"]
        assert acts[0].said.endswith("Z")
        with pytest.raises(UsageError, match="nothing was ever said of 'Hen'"):
            history(s, of="Hen")
        with pytest.raises(UsageError, match="nothing in your history starts with 'zz'"):
            undo(s, "zz")
        assert undo(s).what == "tagged"
    with open_logbook(home) as s:
        assert [(a.what, a.undone) for a in history(s)][:2] == [
            ("undid: tagged", False), ("tagged", True)]  # fmt: skip
        with pytest.raises(InputRefused, match=r"\(tagged\) is undone already"):
            undo(s, acts[0].act)
        undo(s)
    with open_logbook(home) as s:
        undo(s)
    with open_logbook(home) as s, pytest.raises(InputRefused, match="there is nothing to undo"):
        undo(s)


def test_acts_that_begin_alike_are_counted(tmp_path: Path) -> None:
    """Of 17 ids in hex two begin alike."""
    home = book(tmp_path / "book")
    with open_logbook(home) as s:
        for n in range(17):
            s.say("said", [SetFields("area", f"a-{n}", {"name": f"{n}"})])
    with open_logbook(home) as s:
        begins = Counter(act.act[0] for act in history(s))
        begin, many = begins.most_common(1)[0]
        with pytest.raises(UsageError, match=f"{many} acts start with '{begin}'"):
            undo(s, begin)


def test_what_people_send_is_read_by_its_sort() -> None:
    def read(sort: str, value: Any) -> Any:
        return fields.read_one(fields.Field("x", sort=sort), value, SETTINGS)

    assert read("flag", "anything") is True
    assert (read("number", "4.5"), read("whole", "4"), read("number", 4)) == (4.5, 4, 4.0)
    for value in ("x", True, None, 1e15, float("nan")):
        with pytest.raises(UsageError, match="is no number"):
            read("number", value)
    assert read("number", 9.99e14) == 9.99e14
    assert read("length", "100") == pytest.approx(91.44)
    assert read("day", "2025-11-01") == date(2025, 11, 1)
    assert read("text", "as said") == "as said"
    assert read("texts", " a, b ,,") == ["a", "b"]
    assert read("texts", ["a"]) == ["a"]
    assert read("pins", [[1, 2, 3, 4]]) == [[1, 2, 3, 4]]
    assert read("path", ["44, -71", [44.1, -71.1]]) == [(44.0, -71.0), (44.1, -71.1)]
    assert read("outline", [[[1, 2]]]) == [[(1.0, 2.0)]]
    assert len(read("path", [[1, 2]] * 5000)) == 5000
    for sort, value, words in (
        ("text", 3, "x is no text"),
        ("path", "x", "x is no list"),
        ("frames", [3], "x is no list of texts"),
        ("path", [[1, 2]] * 5001, "these are no corners, or too many"),
        ("outline", [3], "these are no corners, or too many"),
        ("path", [[1, 2, 3]], "a corner is no place"),
        ("path", [["a", 2]], "a corner is no place"),
    ):
        with pytest.raises(UsageError) as e:
            read(sort, value)
        assert e.value.what == words


def test_what_a_verb_needs_is_asked_for_and_what_is_empty_left_out() -> None:
    name = fields.Field("name", ask="what is it called?", sort="text", most=5)
    age = fields.Field("age", "DOUBLE", sort="number", label="age")
    sure = fields.Field("sure", sort="flag")
    many = fields.Field("many", sort="whole")
    verb = fields.Verb("add", "name! age! sure many=3")
    kind = fields.Kind("buck", "b", (name, age, sure, many), verbs=(verb,))

    def read(**sent: Any) -> dict[str, Any]:
        return fields.read(kind, "add", sent, SETTINGS)

    assert read(name="Brow ", age="4", sure=False) == {"many": "3", "name": "Brow", "age": 4.0}
    assert read(name="Brow", age=4, sure=True, many="2") == {
        "many": 2, "name": "Brow", "age": 4.0, "sure": True}  # fmt: skip
    assert read(name="12345", age=1)["name"] == "12345"
    for sent, words in (
        ({"age": 4}, "what is it called?"),
        ({"name": "  ", "age": 4}, "what is it called?"),
        ({"name": "Brow"}, "what is its age?"),
        ({"name": "123456", "age": 4}, "name has 6 characters"),
    ):
        with pytest.raises(UsageError) as e:
            read(**sent)
        assert e.value.what == words, sent
    with pytest.raises(UsageError, match="nothing can be done with a buck by 'eat'"):
        kind.verb("eat")
    assert (sure.flag, fields.Field("a", word="b_c").flag) == ("--sure", "--b-c")
    choice = fields.Field("kind", choices=("way in", "stand"))
    assert fields.choice_of(choice, " Way-IN ", "place") == "way in"
    assert fields.choice_of(choice, "seat", "place", {"seat": "stand"}) == "stand"
    with pytest.raises(UsageError) as e:
        fields.choice_of(choice, "hut", "place")
    assert (e.value.what, e.value.remedy) == ("'hut' is no place", "say way in, stand")


def test_a_full_disk_is_known_in_anybodys_words() -> None:
    assert database.is_full(OSError(errno.ENOSPC, "x"))
    assert not database.is_full(OSError(errno.EACCES, os.strerror(errno.ENOSPC)))
    assert database.is_full(duckdb.Error(f"could not write: {os.strerror(errno.ENOSPC)}"))
    assert database.is_full(duckdb.Error("There is not enough space on the disk"))
    assert not database.is_full(duckdb.Error("something else"))
    assert database.first_line(duckdb.Error('{"exception_message": "a\\nb"}')) == "a"
    assert database.first_line(duckdb.Error("")) == "Error"
    assert database.was_stopped(RuntimeError("Query interrupted"))
    assert database.was_stopped(duckdb.InterruptException("x"))
    assert not database.was_stopped(duckdb.Error("x"))
    assert database.one_file(Path("a[1]*?.b")) == "a[[]1][*][?].b"


def test_damage_that_comes_to_light_late_lets_the_database_go(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    with open_logbook(home) as s:
        s.con.execute("CHECKPOINT")
    for error, kind, words in (
        (duckdb.IOException("bad block"), CamsignError, "was damaged and was let go (bad block)"),
        (duckdb.IOException("not enough space on the disk"), InputRefused, "is full"),
    ):
        with pytest.raises(kind) as e, open_logbook(home):
            raise error
        assert words in e.value.what
        assert home.database.exists() is (kind is InputRefused)
        with open_logbook(home):
            pass
    with pytest.raises(duckdb.BinderException), open_logbook(home) as s:
        s.con.execute("SELECT nothing_there")
    assert home.database.exists()


def _raw(body: str) -> bytes:
    """A line with a sum that fits, whatever stands in it."""
    text = body.encode()
    return journal._HEAD + journal._sum(text) + b'",' + text


def test_a_line_with_a_right_sum_may_still_be_none() -> None:
    whole = journal.Line("w", 1, STAMP, "a", "x", [{"undo": ["b"]}], 1)
    assert journal.decode(journal.encode(whole)[:-1], 7) == whole
    assert journal.decode(journal.encode(whole)[:-1], 7).number == 7
    for body, words in (
        ('"v":1,', "left out: it is no JSON that can be read"),
        ('"v":NaN}', "left out: it is no JSON that can be read (NaN is no number)"),
        ('"v":1}', "left out: it has no 'writer'"),
    ):
        with pytest.raises(ValueError) as e:
            journal.decode(_raw(body))
        assert str(e.value).startswith(words)
    with pytest.raises(ValueError, match="damaged: its checksum does not fit"):
        journal.decode(journal.encode(whole)[:-2])


def test_a_line_that_cannot_be_replayed_is_counted_and_told(tmp_path: Path) -> None:
    path = tmp_path / "w.jsonl"
    good = journal.Line("w", 1, STAMP, "a", "x", [{"undo": ["b"]}], 1)
    bad = journal.Line("w", 2, STAMP, "b", "x", [{"undo": "b"}], 1)
    newer = journal.Line("w", 3, STAMP, "c", "x", [{"undo": "b"}], 2)
    path.write_bytes(b"".join(map(journal.encode, (good, bad, newer))) + b"broken\ntorn")
    found = journal.read(path, 0, 10)
    assert [line.act for line in found.lines] == ["a", "c"]
    assert [number for number, _ in found.troubles] == [12, 14]
    assert found.counted == [("w", 1), ("w", 2), ("w", 3)]
    assert (found.damaged, found.torn) == (1, True)
    assert found.end == path.stat().st_size - 4
    behind = journal.read(path, len(journal.encode(good)), 1)
    assert [line.number for line in behind.lines] == [3]


def test_what_lies_beside_journals_is_named_or_passed_over(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    home.journal.mkdir(exist_ok=True)
    line = journal.encode(journal.Line("w", 1, STAMP, "a", "x", [], 1))
    for name, data in (
        ("a.jsonl", b""), ("b (copy)", line), ("c.txt", b"x"), ("d", b""), (".e", line),
        ("~f", line), ("Thumbs.db", b"x"),
    ):  # fmt: skip
        (home.journal / name).write_bytes(data)
    (tmp_path / "far.jsonl").write_bytes(line)
    (home.journal / "g.jsonl").symlink_to(tmp_path / "far.jsonl")
    found, strange = journal.files(home)
    assert [path.name for path in found] == ["a.jsonl", "b (copy)"]
    assert strange == [
        ("c.txt", "is no journal; it was left out"),
        ("g.jsonl", "is a link that leads out of the journal; it was not followed"),
    ]


def test_nothing_is_said_that_could_not_be_read_back(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    for fields_ in ({"name": "\ud800"}, {"shape": {"type": "Point"}}):
        with pytest.raises(UsageError, match="nothing was noted, since it could not be read back"):
            journal.append(home, "x", [SetFields("area", "a-1", fields_)])
    path = home.journal / f"{home.writer}.jsonl"
    assert not path.exists()
    (tmp_path / "far.jsonl").write_bytes(b"")
    path.parent.mkdir(exist_ok=True)
    path.symlink_to(tmp_path / "far.jsonl")
    with pytest.raises(CamsignError, match="cannot be written to"):
        journal.append(home, "x", [SetFields("area", "a-1", {"name": "A"})])
    assert (tmp_path / "far.jsonl").read_bytes() == b""


def test_a_journal_goes_on_behind_a_long_or_a_torn_line(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    path = home.journal / f"{home.writer}.jsonl"
    first = journal.append(home, "x", [SetFields("area", "a-1", {"name": "A"})])
    long_ = journal.append(home, "x", [SetFields("area", "a-1", {"name": "A" * 200_000})])
    assert (first.n, long_.n) == (1, 2)
    with path.open("ab") as f:
        f.write(b'{"sum":"half')
    third = journal.append(home, "x", [SetFields("area", "a-1", {"name": "B"})])
    assert third.n == 3
    assert third.at > long_.at > first.at
    # What was torn was promised to nobody and is gone; what was promised is ended and told.
    assert [(r.n, r.act) for r in journal.read(path).lines][2] == (3, third.act)
    assert journal.read(path).troubles == []
    journal.remember(home, {home.writer: 4})
    with path.open("ab") as f:
        f.write(b'{"sum":"half')
    fifth = journal.append(home, "x", [SetFields("area", "a-1", {"name": "C"})])
    assert fifth.n == 5
    assert [number for number, _ in journal.read(path).troubles] == [4]
    assert memory.counts(home, memory.LINES) == {home.writer: 5}
    journal.remember(home, {home.writer: 3, "other": 2})
    assert memory.counts(home, memory.LINES) == {home.writer: 5, "other": 2}
    (home.cache / memory.LINES).write_text('{"a": 0, "b": "x", "c": 3}')
    assert memory.counts(home, memory.LINES) == {"c": 3}


def test_who_holds_the_logbook_is_named(tmp_path: Path) -> None:
    assert lock.holder(tmp_path) == "another program"
    with lock.held(tmp_path), lock.held(tmp_path):
        said = lock.holder(tmp_path)
        assert f"(process {os.getpid()}, since " in said
    who = {"command": "camsign look", "process": 7, "since": "12:00:00"}
    (tmp_path / lock._HOLDER).write_text(json.dumps(who))
    assert lock.holder(tmp_path) == "camsign look (process 7, since 12:00:00)"
    assert lock._stamp(tmp_path / "none") == 0
    assert lock._stamp(tmp_path) > 0


def test_logbooks_that_were_opened_are_remembered_newest_first(tmp_path: Path) -> None:
    homes = [book(tmp_path / f"b{n}") for n in range(3)]
    for home in (*homes, homes[0]):
        folder.remember_opened(home)
    names = [path.name for path in folder.opened_before()]
    assert names == ["b0", "b2", "b1"]
    kept = config_home() / "logbooks.json"
    assert kept.stat().st_mode & 0o200
    (homes[2].root / "logbook.toml").unlink()
    assert [path.name for path in folder.opened_before()] == ["b0", "b1"]
    many = [str(tmp_path / f"x{n}") for n in range(40)]
    kept.write_text(json.dumps({"logbooks": [*many, 3]}))
    folder.remember_opened(homes[1])
    assert json.loads(kept.read_text())["logbooks"] == [str(homes[1].root.resolve()), *many[:29]]


def test_an_original_lies_in_its_cards_own_files(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    assert home.original("cards/k/files/D/a.jpg") == home.cards / "k" / "files" / "D" / "a.jpg"
    for wrong in ("journal/k/files/a", "cards/k/other/a", "cards/../files/a", "cards", ""):
        with pytest.raises(OutsideError):
            home.original(wrong)


def test_originals_let_go_are_noted_and_come_back(tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    one = let_go.LetGo("files/a.jpg", "a" * 64, "b" * 64)
    two = let_go.LetGo("files/b.jpg", "c" * 64, "d" * 64)
    let_go.note(card, [one, two])
    assert let_go.read(card) == {"files/a.jpg": one, "files/b.jpg": two}
    assert (card / let_go.FILE).stat().st_mode & 0o200
    small = let_go.small_path(card, one.sha256)
    small.parent.mkdir(parents=True)
    small.write_bytes(b"x")
    let_go.came_back(card, ["files/none.jpg"])
    assert small.exists()
    let_go.came_back(card, ["files/a.jpg"])
    assert let_go.read(card) == {"files/b.jpg": two}
    assert not small.exists()
    let_go.came_back(card, ["files/b.jpg"])
    assert not (card / let_go.FILE).exists()


def test_what_is_written_is_whole_before_it_is_forced_to_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes: list[int] = []
    target = tmp_path / "a"
    monkeypatch.setattr(placing, "force", lambda handle: sizes.append(os.fstat(handle).st_size))
    placing.Disk().write(target, b"x" * 10)
    assert sizes == [10]
    home = book(tmp_path / "book")
    sizes.clear()
    monkeypatch.setattr(journal, "force", lambda handle: sizes.append(os.fstat(handle).st_size))
    line = journal.append(home, "x", [SetFields("area", "a-1", {"name": "A"})])
    assert sizes[-1] == len(journal.encode(line))
    assert list(placing.Disk().read_back(target)) == [b"x" * 10]
    with pytest.raises(FileExistsError):
        placing.Disk().write(target, b"y")


def test_a_lock_that_somebody_else_holds_leaves_no_open_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed: list[int] = []
    close = os.close
    monkeypatch.setattr(lock.os, "close", lambda handle: (closed.append(handle), close(handle)))
    monkeypatch.setattr(lock.systems, "try_lock", lambda handle: False)
    assert lock._taken(tmp_path) is None
    assert len(closed) == 1

    def fails(number: int) -> None:
        def failing(handle: int) -> bool:
            raise OSError(number, "no")

        monkeypatch.setattr(lock.systems, "try_lock", failing)

    fails(errno.EIO)
    with pytest.raises(OSError):
        lock._taken(tmp_path)
    assert len(closed) == 2
    fails(next(iter(lock.systems.NO_LOCKS)))
    let_go_ = lock._taken(tmp_path)
    assert let_go_ is not None
    assert lock._taken(tmp_path) is None
    let_go_()
    again = lock._taken(tmp_path)
    assert again is not None
    again()
    assert len(closed) >= 5


def test_what_a_detector_found_is_kept_beside_what_it_found_before(tmp_path: Path) -> None:
    one = Detected("a" * 16, "m", 0.9, 0.1, 0.0, 0.1, 0.2, 0.3, 0.4)
    two = Detected("b" * 16, "m", 0.2, 0.1, 0.0, None, None, None, None)
    measured.replace_rows(tmp_path, [one])
    measured.replace_rows(tmp_path, [two])
    path = tmp_path / cardfacts.DETECTED
    rows = duckdb.connect().execute(f"SELECT frame, animal FROM '{path}' ORDER BY frame").fetchall()
    assert rows == [("a" * 16, 0.9), ("b" * 16, 0.2)]
    measured.replace_rows(tmp_path, [])
    assert path.exists()


def test_a_cache_that_cannot_be_used_or_is_full_is_one_clear_line(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    error = opening._cannot_open(home, RuntimeError("it is odd\nand more"))
    assert error.what == f"the database in {home.cache} cannot be used (it is odd)"
    assert error.remedy == "delete that folder: it is made again and nothing is lost"
    full = opening._cannot_open(home, OSError(errno.ENOSPC, "x"))
    assert isinstance(full, InputRefused)
    assert full.what == f"the disk that holds {home.cache} is full"
