"""`look`: pixels measured again from the originals, and a detector of one's own, by commands."""

from __future__ import annotations

import hashlib
import json
import shutil
from datetime import datetime
from pathlib import Path
from typing import Any

import cv2
import made_cards
import numpy as np
import pytest
from scenes import Deer, Weather, Woods, shoot
from tiny_models import onnx_model, recipe

from camsign.cli.app import run
from camsign.logbook.cardfacts import DETECTED, LOOKS
from camsign.logbook.folder import Folder
from camsign.logbook.measured import replace_rows
from camsign.logbook.records import Look
from camsign.pixels.stays_shown import SHOWN

DEER = (3, 7)
"""Bursts with a deer."""


def card(root: Path) -> Path:
    """Nine bursts of two by day; in two of them a deer."""
    rng, woods, files = np.random.default_rng(3), Woods(3), {}
    for burst in range(9):
        for i in range(2):
            deer = Deer(0.35, 0.4 + 0.1 * i, 0.8, 1, 0.3 * i, 45.0) if burst in DEER else None
            w = Weather(sun=0.1, hour=9 + burst % 6, sway=0.3)
            pixels = cv2.resize(shoot(woods, rng, w, "colour", deer)[0], (640, 480))
            data = cv2.imencode(".jpg", pixels)[1].tobytes()
            when = datetime(2025, 10, 1 + burst, 9 + burst % 6, 0, i)
            block = made_cards.exif(when)
            files[f"DCIM/100MEDIA/IMG_{len(files) + 1:04d}.JPG"] = made_cards.with_exif(data, block)
    return made_cards.fill(root, files)


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("look")
    assert run(["init", str(root / "book"), "--tz", "America/New_York", "--json"]) == 0
    words = ["--logbook", str(root / "book"), "ingest", str(card(root / "CARD"))]
    assert run([*words, "--camera", "CAM01", "--json"]) == 0
    return root / "book"


@pytest.fixture
def home(taken: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    shutil.copytree(taken, tmp_path / "book")
    monkeypatch.setenv("CAMSIGN_LOGBOOK", str(tmp_path / "book"))
    return Folder(tmp_path / "book")


Captured = pytest.CaptureFixture[str]


def said(capsys: Captured, *words: str, code: int = 0) -> Any:
    capsys.readouterr()
    assert run([*words, "--json"]) == code, capsys.readouterr()
    told = json.loads(capsys.readouterr().out)
    return told.get("rows", told)


def the_card(home: Folder) -> Path:
    (one,) = home.cards.iterdir()
    return one


def sums(home: Folder) -> dict[str, str]:
    """Hashes of all that no look may change; what showed is added to shown.txt, never taken out."""
    paths = [p for p in the_card(home).rglob("*") if p.is_file()]
    kept = [p for p in paths if p.name not in (LOOKS, DETECTED, SHOWN)]
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in kept}


def model(folder: Path, least: float = 0.25) -> Path:
    """Says cow, surer the redder the region is: 0.5 and more at a mean red of 0.2 to 0.45."""
    weight = np.zeros((1, 1, 1, 7))
    weight[..., 2] = 2.2
    made = onnx_model(folder / "any.onnx", [([[[[0, 1, 0, 0.2, 0.2, 0.8, 0.8]]]], weight)])
    return recipe(made, "detections", f"least_score = {least}")


@pytest.mark.thorough
def test_an_older_look_is_measured_again_and_nothing_else_is_touched(
    home: Folder, capsys: Captured
) -> None:
    before, rows = sums(home), said(capsys, "frames")
    assert said(capsys, "look")["frames"] == 0
    old = [Look(r["frame"], 0, "dark", 1, 1, 1, 1) for r in rows[:3]]
    replace_rows(the_card(home), old)
    assert [r["light"] for r in said(capsys, "frames")[:4]] == ["dark"] * 3 + ["color"]
    by_day = said(capsys, "frames", "--light", "color")
    assert by_day and {r["light"] for r in by_day} == {"color"}
    assert said(capsys, "frames", "--light", "colour") == by_day
    done = said(capsys, "look")
    assert (done["frames"], done["skipped"]) == (3, [])
    after = said(capsys, "frames")
    weighed = ("likely_empty", "look_first")
    plain = [[{k: v for k, v in r.items() if k not in weighed} for r in x] for x in (rows, after)]
    assert plain[0] == plain[1]
    # What showed meanwhile stays shown; nothing more is set aside.
    assert all(r["likely_empty"] or not a["likely_empty"] for r, a in zip(rows, after, strict=True))
    assert sums(home) == before


@pytest.mark.thorough
@pytest.mark.parametrize(
    ("words", "frames"),
    [
        (["--all"], 18),
        (["--camera", "cam01", "--from", "2025-10-03", "--to", "2025-10-04"], 4),
    ],
)
def test_frames_are_chosen_by_camera_time_card_or_one_by_one(
    home: Folder, capsys: Captured, words: list[str], frames: int
) -> None:
    assert said(capsys, "look", *words)["frames"] == frames
    if "--all" in words:
        (one,) = said(capsys, "cards", "list")
        assert run(["cards", "list"]) == 0  # a bare "refused" says not what
        assert "not copied" in " ".join(capsys.readouterr().out.split())
        assert said(capsys, "look", "--card", one["card"][:8])["frames"] == 18
        name = said(capsys, "frames")[5]["frame"][:12]
        assert said(capsys, "look", name)["frames"] == 1


@pytest.mark.thorough
def test_what_cannot_be_measured_is_told_and_keeps_its_old_look(
    home: Folder, capsys: Captured
) -> None:
    rows = said(capsys, "frames")
    gone, hurt = (home.root / r["file"] for r in rows[:2])
    gone.chmod(0o600)
    gone.unlink()
    hurt.chmod(0o600)
    hurt.write_bytes(hurt.read_bytes()[:-5] + b"other")
    names = [r["frame"][:12] for r in rows[:3]] + ["0123456789ab"]
    done = said(capsys, "look", *names, code=1)
    assert done["frames"] == 1
    why = {s["frame"][:12]: s["why"] for s in done["skipped"]}
    assert why.keys() == {names[0], names[1], names[3]}
    assert "missing" in why[names[0]] and "damaged" in why[names[1]]
    assert said(capsys, "frames") == rows


@pytest.mark.thorough
def test_a_detector_raises_frames_outlives_the_cache_and_names_no_species(
    home: Folder, capsys: Captured, tmp_path: Path
) -> None:
    before = {r["frame"]: r for r in said(capsys, "frames")}
    boxed = [f for f, r in before.items() if r["box_x"] is not None]
    assert len(boxed) >= 2 * len(DEER)
    kept = sums(home)
    words = ["look", "--model", str(model(tmp_path))]
    done = said(capsys, *words)
    assert (done["frames"], done["nothing_new"]) == (len(boxed), 18 - len(boxed))
    assert done["animal"] == len(boxed) and done["person"] == done["vehicle"] == 0
    after = {r["frame"]: r for r in said(capsys, "frames")}
    assert {f for f, r in after.items() if r["detected"] == "animal"} == set(boxed)
    assert all(after[f]["empty_score"] <= before[f]["empty_score"] for f in before)
    rest = set(before) - set(boxed)
    assert all(after[f] == before[f] for f in rest)
    seem = [
        {f for f, r in x.items() if r["likely_empty"] or r["look_first"]} for x in (before, after)
    ]
    assert done["raised"] == len(seem[0] - seem[1])
    assert sums(home) == kept
    shutil.rmtree(home.cache)
    home.cache.mkdir()
    capsys.readouterr()
    assert run(["frames", "--json"]) == 0
    shown = capsys.readouterr().out
    assert {r["frame"]: r for r in json.loads(shown)["rows"]} == after
    assert run(words) == 0
    assert run(["frames", "--limit", "99"]) == 0
    shown += capsys.readouterr().out
    assert "An animal in" in shown and '"animal"' in shown
    assert "cow" not in shown and "horse" not in shown
    assert b"cow" not in (the_card(home) / DETECTED).read_bytes()
    assert all(r["tags"] is None for r in after.values())


@pytest.mark.thorough
def test_another_detector_replaces_what_the_first_said_of_the_same_frames(
    home: Folder, capsys: Captured, tmp_path: Path
) -> None:
    said(capsys, "look", "--model", str(model(tmp_path)))
    rows = said(capsys, "frames", "--likely-animal")
    first = next(r for r in rows if r["detected"] == "animal")
    strict = model(tmp_path, least=0.999)
    done = said(capsys, "look", first["frame"][:12], "--model", str(strict))
    assert (done["frames"], done["animal"]) == (1, 0)
    later = {r["frame"]: r["detected"] for r in said(capsys, "frames")}
    assert later[first["frame"]] == "nothing"
    animals = sum(r["detected"] == "animal" for r in rows)
    assert sum(d == "animal" for d in later.values()) == animals - 1


def test_a_bad_detector_is_one_line_and_nothing_is_written(
    home: Folder, capsys: Captured, tmp_path: Path
) -> None:
    made = model(tmp_path)
    made.write_bytes(b"no network")
    capsys.readouterr()
    assert run(["look", "--model", str(made)]) == 3
    err = capsys.readouterr().err
    assert err.startswith("camsign: ") and err.count("\n") == 1 and "any.onnx" in err
    assert run(["look", "--model", str(tmp_path / "none.onnx")]) == 3
    assert "none.toml is missing" in capsys.readouterr().err
    assert not (the_card(home) / DETECTED).exists()


def test_two_ways_of_naming_at_once_are_refused(home: Folder, capsys: Captured) -> None:
    assert run(["look", "0123456789ab", "--camera", "CAM01"]) == 2
    assert run(["look", "--from", "2025-10-01"]) == 2
    assert "name a camera" in capsys.readouterr().err
