"""A clock that was set back showed the same dates twice: fixed by the order of the files."""

from __future__ import annotations

import re
import shlex
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from derive_world import Shot, book, derived, hang, put_card, rebuilt, rows

from camsign.cli.app import run
from camsign.clock import verbs
from camsign.clock.audit import Finding
from camsign.derive.opening import open_logbook
from camsign.errors import USAGE
from camsign.logbook.folder import Folder
from camsign.sun import sun_height

PLACE = (44.1, -71.2)
FIRST = np.datetime64("2025-08-10T20:00:00", "s").astype("int64")
HALF = 150
DAY_S = 86400


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))
    made = book(tmp_path / "book")
    with open_logbook(made) as session:
        span = "2025-08-10T12:00:00Z", "2025-10-10T12:00:00Z"
        session.say("hung CAM1", [hang("CAM1", *span, id="d-1", at=PLACE)])
    return made


def load(home: Folder, ahead_s: np.ndarray, cards: tuple[str, ...] = ("k",)) -> dict[str, int]:
    """Cards of CAM1, each as long, whose clock is so far ahead at each picture: the true times."""
    later = np.random.default_rng(1).integers(60, 55 * DAY_S, 2 * HALF - 1)
    true = np.sort(np.concatenate([[FIRST], FIRST + later]))
    light = np.random.default_rng(2).logistic(-2, 0.6, len(true))
    lit = sun_height(*PLACE, true.astype("datetime64[s]")) > light
    shown = (true - 4 * 3600 + ahead_s).astype("datetime64[s]")
    shots = [
        Shot(str(at), f"DCIM/100CAMS/IMG_{i:04d}.JPG", "colour" if day else "infrared")
        for i, (at, day) in enumerate(zip(shown, lit, strict=True), 1)
    ]
    frames: list[str] = []
    for n, card in enumerate(cards):
        part = slice(n * len(shots) // len(cards), (n + 1) * len(shots) // len(cards))
        taken = f"2025-1{n}-20T12:00:00Z"
        frames += put_card(home, card, "CAM1", shots[part], taken)
    return dict(zip(frames, true.tolist(), strict=True))


def off_by(home: Folder, true: dict[str, int]) -> float:
    now = rows(home, "SELECT frame, epoch(utc) FROM frame_times")
    return max(abs(at - true[frame]) for frame, at in now if frame in true)


def set_back(home: Folder) -> dict[str, int]:
    """From the middle of the card on the clock is 20 days slow."""
    return load(home, np.where(np.arange(2 * HALF) < HALF, 0, -20 * DAY_S))


def set_right(found: Finding, true: dict[str, int]) -> None:
    """Run the audit's command with the time of the first picture behind the middle."""
    words = shlex.split(found.remedy[found.remedy.index("camsign clock set") :])[1:]
    first = datetime(1970, 1, 1) + timedelta(seconds=list(true.values())[HALF] - 4 * 3600)
    assert run([word.replace("WHEN", f"{first:%Y-%m-%d %H:%M}") for word in words]) == 0


def test_the_command_of_the_audit_sets_the_half_that_was_set_back(home: Folder) -> None:
    true = set_back(home)
    assert off_by(home, true) == 20 * DAY_S
    with open_logbook(home) as session:
        found = next(f for f in verbs.audit(session) if f.verdict == "date set back")
    set_right(found, true)
    assert off_by(home, true) < 60
    with open_logbook(home) as session:
        assert [f.verdict for f in verbs.audit(session)] == ["right", "right"]
        (said,) = verbs.corrections(session)
        assert (said.frames, said.deployment, said.clock_from) == (HALF, None, None)
    assert derived(home) == rebuilt(home)
    assert run(["undo"]) == 0
    assert off_by(home, true) == 20 * DAY_S


@pytest.mark.parametrize("last_years_card", [False, True])
def test_a_clock_set_a_year_back_is_told_though_its_camera_hung_then_too(
    home: Folder, last_years_card: bool
) -> None:
    with open_logbook(home) as session:
        span = "2024-08-10T12:00:00Z", "2024-10-10T12:00:00Z"
        session.say("hung CAM1", [hang("CAM1", *span, id="d-0", at=PLACE)])
    if last_years_card:  # the camera died before the days that its clock showed again
        shown = [datetime(2024, 8, 11) + timedelta(hours=5 * i) for i in range(20)]
        put_card(home, "k0", "CAM1", [Shot(str(at)) for at in shown], "2024-11-01T12:00:00Z")
    true = load(home, np.where(np.arange(2 * HALF) < HALF, 0, -365 * DAY_S))
    with open_logbook(home) as session:
        found = next(f for f in verbs.audit(session) if f.verdict == "date set back")
    assert (found.deployment, found.frames) == ("d-0", HALF)
    assert "the date goes back 365 days" in found.why
    set_right(found, true)
    assert off_by(home, true) < 60
    with open_logbook(home) as session:
        assert "date set back" not in [f.verdict for f in verbs.audit(session)]


def test_what_the_audit_fixes_of_one_card_leaves_the_next_alone(home: Folder) -> None:
    """Twelve hours ahead until cards were changed, it showed the next one's first hours already."""
    true = load(home, np.where(np.arange(2 * HALF) < HALF, 12 * 3600, 0), ("k1", "k2"))
    with open_logbook(home) as session:
        verbs.apply(session, verbs.audit(session))
    assert off_by(home, true) < 60
    assert derived(home) == rebuilt(home)


def test_the_last_word_counts_for_each_picture_and_ends_may_be_open(home: Folder) -> None:
    frames = list(load(home, np.zeros(2 * HALF, dtype="int64")))
    before = dict(rows(home, "SELECT frame, utc FROM frame_times"))
    shift = ("clock", "set", "CAM1", "--shift")
    assert run([*shift, "5h"]) == 0
    assert run([*shift, "1h", "--from", frames[10]]) == 0
    assert run([*shift, "2h", "--from", frames[20], "--to", frames[29]]) == 0
    assert run([*shift, "3h", "--to", frames[4]]) == 0
    now = dict(rows(home, "SELECT frame, utc FROM frame_times"))
    moved = [(now[f] - before[f]) / timedelta(hours=1) for f in frames]
    assert moved == [3] * 5 + [5] * 5 + [1] * 10 + [2] * 10 + [1] * (2 * HALF - 30)
    assert derived(home) == rebuilt(home)
    assert run([*shift, "7h"]) == 0  # of all, and said last
    now = dict(rows(home, "SELECT frame, utc FROM frame_times"))
    assert {(now[f] - before[f]) / timedelta(hours=1) for f in frames} == {7}


def test_pictures_that_cannot_be_meant_are_one_line(
    home: Folder, capsys: pytest.CaptureFixture[str]
) -> None:
    frames = list(load(home, np.zeros(2 * HALF, dtype="int64"), ("k1", "k2")))
    for ends, told in (
        (("--from", frames[9], "--to", frames[3]), "run backward on their card"),
        (("--from", frames[9], "--to", frames[-1]), "lie on two cards"),
        (("--from", "f" * 12), "CAM1 has no picture"),
        (("--from", frames[9], "--deployment", "d-1"), "not both"),
        (("--from", frames[9], "--to", "2025-09-01"), "CAM1 has no picture Sep 1, 2025"),
    ):
        assert run(["clock", "set", "CAM1", "--shift", "1h", *ends]) == USAGE
        assert re.search(told, capsys.readouterr().err), ends
    assert rows(home, "SELECT count(*) FROM clock_fixes") == [(0,)]
