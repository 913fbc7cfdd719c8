"""Cameras hung and taken down: what is said, what is refused, what stands afterward."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, TypeVar

import pytest

from camsign.cli.app import run
from camsign.derive.opening import open_logbook
from camsign.errors import UsageError
from camsign.logbook.folder import Folder, create
from camsign.logbook.session import Session
from camsign.places import deployments as d
from camsign.places import hang_checks
from camsign.units import parse_bearing, parse_when

HERE = (44.2, -71.4)
T = TypeVar("T")


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    return create(tmp_path / "hollow", "America/New_York", HERE, "imperial")


def do(folder: Folder, verb: Callable[[Session], T]) -> T:
    with open_logbook(folder) as session:
        return verb(session)


def hang(folder: Folder, camera: str, start: str, until: str | None = None) -> d.Hung:
    end = parse_when(until) if until else None
    return do(folder, lambda s: d.hang(s, camera, HERE, parse_when(start), end))


def standing(folder: Folder) -> list[d.Hung]:
    return do(folder, d.deployments)


def test_hanging_is_said_once_and_stands_as_it_was_echoed(folder: Folder) -> None:
    said = hang(folder, "CAM03", "2026-08-10 17:30")
    assert standing(folder) == [said]
    assert said.hung == datetime(2026, 8, 10, 21, 30, tzinfo=UTC)  # EDT is UTC-4
    assert said.hung.isoformat() == "2026-08-10T17:30:00-04:00"
    assert len((folder.journal / f"{folder.writer}.jsonl").read_bytes().splitlines()) == 1


def test_a_camera_hung_again_where_it_hangs_is_told_so(folder: Folder) -> None:
    """A handheld's file knows the hour and one more digit; who types it gives the day."""
    hang(folder, "CAM03", "2026-08-10 17:30")
    near, far = (HERE[0] + 0.00004, HERE[1]), (HERE[0] + 0.01, HERE[1])
    for at, day, told in (
        (near, "2026-08-10", "CAM03 is already up there since"),
        (far, "2026-08-10", "two places at once"),
        (near, "2026-08-09", "two places at once"),
    ):
        with pytest.raises(UsageError, match=told), open_logbook(folder) as session:
            d.hang(session, "CAM03", at, parse_when(day))


def test_an_earlier_day_than_the_one_said_is_a_correction(folder: Folder) -> None:
    hung = hang(folder, "CAM04", "2025-09-20")
    with pytest.raises(UsageError) as e:
        hang(folder, "CAM04", "2025-08-10")
    assert str(e.value).endswith(
        f"up earlier? camsign hang correct {hung.deployment} --from 2025-08-10"
    )
    with pytest.raises(UsageError, match=r"moved it\? camsign takedown CAM04 --on DAY first"):
        hang(folder, "CAM04", "2025-10-10")


def test_no_camera_hangs_from_a_day_to_come(folder: Folder, monkeypatch: Any) -> None:
    monkeypatch.setattr(hang_checks, "today", lambda tz: date(2026, 11, 30))
    said = r"May 1, 2027 is in the future; is the year right\?"
    with pytest.raises(UsageError, match=said):
        hang(folder, "CAM10", "2027-05-01")
    hung = hang(folder, "CAM10", "2026-12-01")  # tomorrow: a zone may be ahead
    for late in ("2026-12-02", "2027-05-01 12:00"):
        with pytest.raises(UsageError, match="is in the future"), open_logbook(folder) as s:
            d.correct_deployment(s, hung.deployment, start=parse_when(late))
    with open_logbook(folder) as s:
        d.correct_deployment(s, hung.deployment, note="by the creek")
    assert [one.note for one in standing(folder)] == ["by the creek"]


@pytest.mark.thorough
def test_two_places_at_once_are_refused_and_the_other_is_named(folder: Folder) -> None:
    first = hang(folder, "CAM03", "2026-08-10 17:30")
    with pytest.raises(UsageError, match=first.deployment) as e:
        hang(folder, "cam03", "2026-09-01")
    assert "takedown CAM03" in str(e.value) and "\n" not in str(e.value)
    with pytest.raises(UsageError, match=first.deployment):
        hang(folder, "CAM03", "2026-08-01", "2026-08-10")  # its last day reaches into the other
    hang(folder, "CAM03", "2026-08-01", "2026-08-09")
    hang(folder, "CAM04", "2026-08-10 17:30")
    assert len(standing(folder)) == 3


@pytest.mark.thorough
def test_takedown_ends_what_hangs_and_says_so_if_nothing_does(folder: Folder) -> None:
    hung = hang(folder, "CAM03", "2026-08-10")
    down = do(folder, lambda s: d.takedown(s, "cam03", parse_when("2026-11-02"), working=True))
    assert down.deployment == hung.deployment and down.worked_to_end
    assert down.until is not None and down.until.isoformat() == "2026-11-03T00:00:00-05:00"
    assert standing(folder) == [down]
    with pytest.raises(UsageError, match="last taken down 2026-11-03 00:00"):
        do(folder, lambda s: d.takedown(s, "CAM03", parse_when("2026-12-01")))
    hang(folder, "CAM03", "2026-11-03")
    with pytest.raises(UsageError, match="isn't hanging anywhere on Oct 1, 2026"):
        do(folder, lambda s: d.takedown(s, "CAM03", parse_when("2026-10-01 12:00")))


@pytest.mark.parametrize(
    ("at", "start", "until", "clock", "words"),
    [
        ((95.0, -71.4), "2026-08-10", None, "hung", "latitude 95"),
        ((44.2, -191.0), "2026-08-10", None, "hung", "longitude -191"),
        (HERE, "2026-08-10", "2026-08-09", "hung", "before it was hung"),
        (HERE, "2026-08-10", None, "summer", "'summer' is no clock rule"),
        (HERE, "2026-08-10", None, "-15:00", "clock rule"),
        (HERE, "2026-03-08 02:30", None, "hung", "did not exist"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_said(
    folder: Folder, at: tuple[float, float], start: str, until: str | None, clock: str, words: str
) -> None:
    end = parse_when(until) if until else None
    with pytest.raises(UsageError, match=words) as e:
        do(folder, lambda s: d.hang(s, "CAM03", at, parse_when(start), end, clock=clock))
    assert "\n" not in str(e.value)
    assert not list(folder.journal.glob("*.jsonl"))


def test_where_it_looks_is_kept_true(folder: Folder) -> None:
    facing = parse_bearing("120M")
    said = do(folder, lambda s: d.hang(s, "CAM03", HERE, parse_when("2026-08-10"), facing=facing))
    # The declination there is near -14 degrees (WMM2025; see test_sign_magnetism).
    assert said.facing_deg == pytest.approx(106, abs=0.7)
    assert standing(folder) == [said]


@pytest.mark.thorough
def test_a_deployment_is_put_right(folder: Folder) -> None:
    hung = hang(folder, "CAM03", "2026-08-10", "2026-09-01")
    hang(folder, "CAM03", "2026-09-05")

    def correct(**to: object) -> d.Hung:
        return do(folder, lambda s: d.correct_deployment(s, hung.deployment, **to))  # type: ignore[arg-type]

    moved = correct(at=(44.3, -71.5), until=parse_when("2026-09-04"), note="moved uphill")
    assert (moved.lat, moved.lon, moved.note) == (44.3, -71.5, "moved uphill")
    assert moved in standing(folder)
    for to in ({"until": parse_when("2026-09-06")}, {"still_hanging": True}):
        with pytest.raises(UsageError, match=r"already up at .* since Sep 5, 2026 .* two places"):
            correct(**to)
    with pytest.raises(UsageError, match="nothing to change"):
        correct()
    other = correct(camera="CAM09", still_hanging=True)
    assert other.camera == "CAM09" and other.until is None
    assert other in standing(folder)


@pytest.mark.thorough
def test_a_removed_deployment_makes_room(folder: Folder) -> None:
    wrong = hang(folder, "CAM03", "2026-08-10")
    do(folder, lambda s: d.remove_deployment(s, wrong.deployment))
    assert standing(folder) == []
    hang(folder, "CAM03", "2026-08-10")
    with pytest.raises(UsageError, match="no deployment 'd-00000000'"):
        do(folder, lambda s: d.remove_deployment(s, "d-00000000"))


def test_a_camera_that_sets_its_own_clock_does_so_next_season_too(
    folder: Folder, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(folder.root))
    first = ("--at", "44.2,-71.4", "--from", "2024-08-10", "--until", "2025-01-10")
    again = ("--at", "44.2,-71.4", "--from", "2025-08-10")
    for camera, *clock in (
        ("CAM03", "--clock", "local"),
        ("CAM04", "--clock", "-05:00"),
        ("CAM05",),
    ):
        assert run(["hang", camera, *first, *clock]) == 0
        assert run(["hang", camera, *again]) == 0
    assert run(["takedown", "CAM03", "--on", "2025-12-01"]) == 0
    assert run(["hang", "CAM03", *again[:2], "--from", "2025-12-20", "--clock", "hung"]) == 0
    clocks = ["local", "local", "hung", "-05:00", "hung", "hung", "hung"]
    assert [one.clock for one in standing(folder)] == clocks
    out = capsys.readouterr().out
    assert out.count("Its clock switches for daylight saving, as where it hung last.") == 1


def test_outages(folder: Folder) -> None:
    with pytest.raises(UsageError, match="never hung"):
        do(
            folder,
            lambda s: d.outage(s, "CAM3", parse_when("2026-08-12"), parse_when("2026-08-14")),
        )
    hang(folder, "CAM03", "2026-08-10")
    said = do(
        folder, lambda s: d.outage(s, "cam03", parse_when("2026-08-12"), parse_when("2026-08-14"))
    )
    assert said.camera == "CAM03" and (said.stop - said.start).days == 3
    assert do(folder, d.outages) == [said]
    with pytest.raises(UsageError, match="run backward; swap"):
        do(
            folder,
            lambda s: d.outage(s, "CAM03", parse_when("2026-08-12"), parse_when("2026-08-11")),
        )


@pytest.mark.parametrize("rule", ["-13:00", "+14:30", "noon", "z"])
def test_a_clock_rule_that_no_answer_understands_is_refused(folder: Folder, rule: str) -> None:
    with pytest.raises(UsageError, match="no clock rule"):
        do(folder, lambda s: d.hang(s, "CAM1", (44.2, -71.4), parse_when("2025-10-01"), clock=rule))


@pytest.mark.parametrize(
    ("until", "remedy", "hour"),
    [
        ("2025-10-20", '--until "2025-10-20 12:00", then --from "2025-10-20 12:00"', "12:00"),
        ("2025-10-20 11:00", 'give the hour: --from "2025-10-20 11:00"', "11:00"),
        ("2025-10-21", "give a day outside of that", ""),
    ],
)
def test_a_move_within_a_day_is_asked_for_its_hour(
    folder: Folder, until: str, remedy: str, hour: str
) -> None:
    first = hang(folder, "CAM07", "2025-08-10", until)
    with pytest.raises(UsageError) as e:
        hang(folder, "CAM07", "2025-10-20")
    assert str(e.value).endswith(remedy)
    if hour == "12:00":
        assert f"camsign hang correct {first.deployment} --until" in str(e.value)
        noon = parse_when("2025-10-20 12:00")
        do(folder, lambda s: d.correct_deployment(s, first.deployment, until=noon))
    if hour:
        hang(folder, "CAM07", f"2025-10-20 {hour}")
        assert len(standing(folder)) == 2
