"""The sign log: what is said, what stands, what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any, TypeVar

import pytest

from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.sign import record as r
from camsign.sign.fresh import fresh_signs
from camsign.sign.heading import parse_heading
from camsign.sign.kinds import checked_measures, looks_like_bucks, parse_measures, sign_kind

HERE = (44.2, -71.4)
MARCH = date(2026, 3, 14)
IMPERIAL = Settings(id="x", tz="UTC")
METRIC = Settings(id="x", tz="UTC", units="metric")
T = TypeVar("T")


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return create(tmp_path / "hollow", "America/New_York", HERE, "imperial")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def add(folder: Folder, kind: str, day: date = MARCH, **seen: Any) -> r.SignSaid:
    return do(folder, lambda s: r.add_sign(s, kind, HERE, r.SaidSighting(day, **seen)))


def listed(folder: Folder, **wanted: Any) -> list[r.SignRow]:
    return do(folder, lambda s: r.signs(s, **wanted))


def test_a_rub_found_in_march(folder: Folder) -> None:
    measures = parse_measures("rub", {"top": "38", "diameter": "2in", "marks": "nicks"}, IMPERIAL)
    said = add(folder, "Rubs", heading=parse_heading("bare SW"), measures=measures, state="clean")
    assert (said.kind, said.travel_deg, said.season) == ("rub", 45.0, 2025)
    assert said.read_as == (
        "read as: rubbed side faces SW (225°), so he was headed NE;"
        " top 38 in, diameter 2 in, marks nicks;"
        " made between 2025-10-10 and 2025-12-20 (looked dry)"
    )
    (row,) = listed(folder)
    for name in ("sign", "sighting", "kind", "lat", "lon", "seen_on", "made_from", "made_to"):
        assert getattr(row, name) == getattr(said, name)
    assert (row.travel_deg, row.taken_as, row.state) == (45.0, "bare 225T", "dry")
    assert row.measures == {
        "top_m": pytest.approx(0.9652),  # 38 in
        "diameter_m": pytest.approx(0.0508),
        "marks": ["nicks"],
        "bare_deg": 225.0,
    }
    (flat,) = r.as_records([row])
    assert flat["top_m"] == row.measures["top_m"] and flat["marks"] == "nicks"
    assert "measures" not in flat


def test_what_is_said_is_one_line(folder: Folder) -> None:
    add(folder, "bed", measures={"aspect_deg": 170.0, "hair": True})
    assert len((folder.journal / f"{folder.writer}.jsonl").read_bytes().splitlines()) == 1


def test_one_rub_in_three_seasons_is_traditional(folder: Folder) -> None:
    first = add(folder, "rub", date(2023, 11, 1))
    for year in (2024, 2025):
        seen = r.SaidSighting(date(year, 11, 1))
        assert do(folder, lambda s, seen=seen: r.look_again(s, first.sign, seen)).sign == first.sign  # type: ignore[misc]
    rows = listed(folder)
    assert [row.season for row in rows] == [2023, 2024, 2025]
    assert {row.sign for row in rows} == {first.sign}
    assert all(row.traditional and row.seasons == 3 for row in rows)
    assert [row.seen_on.year for row in listed(folder, season=2024)] == [2024]


def test_not_there_yet_narrows_what_was_found_later(folder: Folder) -> None:
    found = add(folder, "rub", date(2025, 10, 4))
    absent = do(
        folder,
        lambda s: r.look_again(s, found.sign, r.SaidSighting(date(2025, 9, 20), "not there yet")),
    )
    assert absent.read_as == "read as: no rub was there on 2025-09-20"
    (row,) = listed(folder)
    assert (row.made_from, row.made_to) == (date(2025, 9, 20), date(2025, 10, 4))


def test_two_signs_that_are_one(folder: Folder) -> None:
    one, two = add(folder, "rub", date(2024, 11, 1)), add(folder, "rub", date(2025, 11, 1))
    bed = add(folder, "bed")
    assert do(folder, lambda s: r.same_sign(s, one.sign, two.sign)) == two.sign
    assert {row.sign for row in listed(folder, kind="rub")} == {two.sign}
    assert [row.seasons for row in listed(folder, kind="rub")] == [2, 2]
    for other, words in ((two.sign, "the same"), (bed.sign, "a rub and a bed")):
        with pytest.raises(UsageError, match=words):
            do(folder, lambda s, other=other: r.same_sign(s, two.sign, other))  # type: ignore[misc]


def test_removed_sign_is_gone(folder: Folder) -> None:
    said = add(folder, "rub")
    do(folder, lambda s: r.remove_sign(s, said.sign))
    assert listed(folder) == []
    with pytest.raises(UsageError, match="no sign"):
        do(folder, lambda s: r.remove_sign(s, said.sign))


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("kind", "seen", "words"),
    [
        ("nest", {}, "'nest' is no kind of sign; say rub"),
        ("bed", {"heading": parse_heading("NE")}, "a bed has no bearing"),
        ("rub", {"state": "shiny"}, "says nothing of the look"),
        ("rub", {"measures": {"top_m": 41.0}}, "top of a rub cannot be 41 m"),
        ("rub", {"measures": {"branch": 1.0}}, "a rub has no 'branch'"),
        ("rub", {"measures": {"marks": ["scratch"]}}, "cannot be scratch; say nicks"),
        ("rub", {"measures": {"top_m": 0.5, "bottom_m": 0.9}}, "lies below its bottom"),
        ("rub", {"made_from": date(2026, 3, 15)}, "made after"),
        ("rub", {"made_from": date(2026, 3, 1), "made_to": date(2026, 2, 1)}, "swap them"),
    ],
)
def test_what_is_refused(folder: Folder, kind: str, seen: dict[str, Any], words: str) -> None:
    with pytest.raises(UsageError, match=words) as e:
        add(folder, kind, **seen)
    assert "\n" not in str(e.value) and not list(folder.journal.glob("*.jsonl"))


def test_days_and_places_that_cannot_be(folder: Folder) -> None:
    with pytest.raises(UsageError, match="is in the future"):
        add(folder, "rub", date.today() + timedelta(days=3))
    with pytest.raises(UsageError, match="nobody saw it in 1025"):
        add(folder, "rub", date(1025, 10, 1))
    with pytest.raises(UsageError, match="latitude 95"):
        do(folder, lambda s: r.add_sign(s, "rub", (95.0, 0.0), r.SaidSighting(MARCH)))


def test_snow_is_added_to_heights() -> None:
    said = parse_measures("rub", {"top": "60cm", "bottom": "10cm", "snow": "40cm"}, METRIC)
    assert checked_measures("rub", said) == {"top_m": 1.0, "bottom_m": 0.5, "snow_m": 0.4}


def test_a_measure_is_named_in_words_too() -> None:
    said = parse_measures("rub", {"far marks": "12in"}, IMPERIAL)
    assert said == parse_measures("rub", {"far_marks": "12in"}, IMPERIAL)
    assert said["far_marks_m"] == pytest.approx(0.3048)


def test_units_of_measures() -> None:
    assert parse_measures("rub", {"top": "100"}, METRIC) == {"top_m": 1.0}
    assert parse_measures("rub", {"top": "100"}, IMPERIAL) == {"top_m": 2.54}
    assert parse_measures("rub", {"top_m": "1.2"}, IMPERIAL) == {"top_m": 1.2}
    assert parse_measures("bed", {"hair": "yes", "aspect": "170"}, METRIC) == {
        "hair": True,
        "aspect_deg": 170.0,
    }
    for said, words in (({"hair": "perhaps"}, "say yes or no"), ({"aspect": "S"}, "no number")):
        with pytest.raises(UsageError, match=words):
            parse_measures("bed", said, METRIC)


def test_words_for_kinds() -> None:
    assert [sign_kind(w) for w in ("Scrapes", "shed antler", "droppings", "TRACKS", "beds")] == [
        "scrape", "shed", "droppings", "track", "bed",
    ]  # fmt: skip


def test_fresh_is_what_looked_fresh_within_its_window(folder: Folder) -> None:
    """Unlooked and seen fresh in March are no fresh sign (docs/sign.md); days said outright are."""
    with open_logbook(folder) as s:
        for seen, state in (
            ("2025-11-08", "fresh"),
            ("2025-11-08", "bright"),
            ("2025-11-08", None),
            ("2026-03-14", "fresh"),
        ):
            r.add_sign(s, "rub", (44.62, -71.23), r.SaidSighting(date.fromisoformat(seen), state))
        for first in ("2025-11-05", "2025-10-05"):
            seen_on = date(2025, 11, 9)
            said = r.SaidSighting(seen_on, None, made_from=date.fromisoformat(first))
            r.add_sign(s, "rub", (44.62, -71.23), said)
        old = r.add_sign(s, "rub", (44.63, -71.23), r.SaidSighting(date(2025, 10, 4), "fresh"))
    with open_logbook(folder) as s:  # bright, but an earlier look shows that it's older
        r.look_again(s, old.sign, r.SaidSighting(date(2025, 11, 8), "bright"))
    with open_logbook(folder) as s:
        november = fresh_signs(s, date(2025, 11, 1), date(2025, 11, 10))
        march = fresh_signs(s, date(2026, 3, 5), date(2026, 3, 14))
        before = fresh_signs(s, date(2025, 10, 28), date(2025, 11, 7))
    assert sorted((row.seen_on, f"{row.state}") for row in november) == [
        (date(2025, 11, 8), "bright"),
        (date(2025, 11, 8), "fresh"),
        (date(2025, 11, 9), "None"),
    ]
    assert march == [] and before == []


def test_whose_bed(folder: Folder) -> None:
    with open_logbook(folder) as s:
        bed = r.add_sign(
            s, "bed", (44.62, -71.23), r.SaidSighting(date(2025, 11, 8)), bed_of="Buck"
        ).sign
        with pytest.raises(UsageError, match="buck, doe or unknown, not 'moose'"):
            r.add_sign(s, "bed", (44.62, -71.23), r.SaidSighting(date(2025, 11, 8)), bed_of="moose")
        with pytest.raises(UsageError, match="nobody's bed"):
            r.add_sign(s, "rub", (44.62, -71.23), r.SaidSighting(date(2025, 11, 8)), bed_of="buck")
    with open_logbook(folder) as s:
        assert [row.bed_of for row in r.signs(s)] == ["buck"]
        r.look_again(s, bed, r.SaidSighting(date(2025, 11, 9)), "doe")
    with open_logbook(folder) as s:
        assert {row.bed_of for row in r.signs(s)} == {"doe"}


def test_a_long_bed_suggests_a_buck() -> None:
    """50 in or longer: common practice, no source."""
    assert looks_like_bucks("bed", None, {"length_m": 50 * 0.0254})
    assert not looks_like_bucks("bed", None, {"length_m": 49 * 0.0254})
    assert not looks_like_bucks("bed", "doe", {"length_m": 1.4})
    assert not looks_like_bucks("bed", None, {})
