"""Rendered views for the tests of what pixels say: crossings, moved cameras, kinds of light."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from scenes import Deer, Grid, Weather, Woods, shoot

from camsign.pixels.changes import Change, Glanced, changes
from camsign.pixels.decode import Reduced, decode_reduced
from camsign.pixels.glance import pack
from camsign.pixels.look import look
from camsign.pixels.planes import planes_of
from camsign.pixels.steady import Move, moves

TONES: dict[str, Callable[[Grid], Grid]] = {
    # Gray values 0..1 to blue, green, red: toning as a function of brightness alone.
    "sepia": lambda g: np.dstack([0.75 * g**1.4, 0.9 * g**1.1, g]),
    "purple": lambda g: np.dstack([g, 0.85 * g**1.15, g**0.95]),
    "green": lambda g: np.dstack([0.8 * g, g, 0.75 * g**1.2]),
}


def seen(pixels: Grid) -> tuple[str, dict[str, float]]:
    found = look("f", Reduced(np.asarray(pixels, np.uint8), pixels.shape[1], pixels.shape[0]))
    return found.light, json.loads(found.numbers)


def through_jpeg(pixels: Grid, quality: int) -> Grid:
    """What is left after the camera's JPEG and the reduced decode."""
    flags = [cv2.IMWRITE_JPEG_QUALITY, quality]
    reduced = decode_reduced(cv2.imencode(".jpg", pixels.astype(np.uint8), flags)[1].tobytes())
    assert isinstance(reduced, Reduced)
    return reduced.pixels


def pictures(seed: int) -> dict[str, Grid]:
    rng = np.random.default_rng(seed)
    woods = Woods(seed)
    snow = float(seed % 4 == 0)
    w = Weather(sun=float(rng.uniform(0, 1)), hour=float(rng.uniform(7, 17)), sway=2, cover=snow)
    day, ir = shoot(woods, rng, w)[0], shoot(woods, rng, w, "infrared")[0]
    foggy = Weather(hour=w.hour, cover=snow, fog=float(rng.uniform(0.62, 0.85)))
    out = {"day": day, "infrared": ir, "fog": shoot(woods, rng, foggy)[0]}
    out["blur"] = cv2.GaussianBlur(day, (0, 0), float(rng.uniform(2.5, 5)))
    out["washed"] = np.clip(day * 3.4, 0, 255)
    out["flash"] = np.clip(ir[..., :1] * woods.hue, 0, 255)
    out["dark"] = ir * 0.15
    large = cv2.resize(ir[..., 0], (1280, 960), interpolation=cv2.INTER_CUBIC) / 255
    for name, tone in TONES.items():
        out[name] = through_jpeg(np.clip(tone(large), 0, 1) * 255, 80)
    return out


def crossings(seed: int) -> list[tuple[str, list[Change]]]:
    """A deployment of empty bursts and, between them, eight in which a deer crosses."""
    rng = np.random.default_rng(seed)
    woods, light = Woods(seed), "infrared" if seed % 2 else "colour"
    out: list[Glanced] = []
    truth: list[tuple[str, int, int]] = []
    for burst in range(20):
        crosses, n = burst % 5 > 2, 3 + burst % 2
        way = int(rng.choice([-1, 1]))
        tall, shade = float(rng.uniform(0.12, 0.45)), float(rng.choice([-45, 45]))
        if crosses:
            truth.append(("right" if way > 0 else "left", len(out), n))
        for i in range(n):
            shift = tuple(rng.normal(0, 0.2, 2))
            w = Weather(sun=0.1, hour=8 + burst % 9, sway=0.4, shift=shift)
            x = 0.5 + way * (i - (n - 1) / 2) * 0.5 / n
            deer = Deer(tall, x, 0.5 + tall / 2, way, 0.37 * i, shade) if crosses else None
            pixels = shoot(woods, rng, w, light, deer)[0]
            gray = cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)
            out.append(Glanced(f"{burst}-{i}", burst * 3600.0 + i, str(burst), pack(gray)))
    rows = changes(out)
    return [(way, rows[first : first + n]) for way, first, n in truth]


def view(
    seed: int,
    n: int,
    sway: float,
    moved: tuple[int, float, float, float] | None = None,
    covered: int | None = None,
    snow: int | None = None,
) -> list[Grid]:
    """Grain planes of a camera whose view shifts or turns from one picture on, or is covered."""
    rng = np.random.default_rng(seed)
    woods, out = Woods(seed), []
    light = "infrared" if seed % 2 else "colour"
    for i in range(n):
        w = Weather(
            sun=float(rng.uniform(0, 0.8)), hour=float(rng.uniform(8, 17)),
            sway=float(rng.uniform(0.2, 1) * sway), exposure=float(rng.normal(1, 0.05)),
        )  # fmt: skip
        if snow is not None and i >= snow:
            w = replace(w, cover=min(1.0, (i - snow + 1) / 2), flakes=int(rng.integers(0, 120)))
        right, down, turn = moved[1:] if moved and i >= moved[0] else (0.0, 0.0, 0.0)
        jitter = rng.normal(0, 0.3, 2)
        w = replace(w, shift=(right + float(jitter[0]), down + float(jitter[1])))
        pixels = shoot(woods, rng, w, light)[0]
        if turn:
            m = cv2.getRotationMatrix2D((160, 120), -turn, 1)
            pixels = cv2.warpAffine(pixels, m, (320, 240), borderMode=cv2.BORDER_REFLECT)
        if covered is not None and i >= covered:
            pixels = np.clip(60 + rng.normal(0, 3, pixels.shape), 0, 255).astype(np.uint8)
        gray = cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY)
        small = cv2.resize(gray, (256, 192), interpolation=cv2.INTER_AREA)
        out.append(planes_of(small).grain.copy())
    return out


def false_alarms(seeds: Sequence[int]) -> list[tuple[int, list[Move]]]:
    found = [(s, moves(view(s, 12, 4.0, snow=5 if s % 4 == 0 else None))) for s in seeds]
    return [(s, m) for s, m in found if m]


def sequence(folder: Path) -> tuple[list[float], list[bool]]:
    """The news of each frame of a real sequence, three a burst, and whether anything is there."""
    with (folder / "LABELS.csv").open(encoding="utf-8") as f:
        labels = list(csv.DictReader(f))
    frames = []
    for i, row in enumerate(labels):
        reduced = decode_reduced((folder / row["file"]).read_bytes())
        assert isinstance(reduced, Reduced)
        gray = cv2.cvtColor(reduced.pixels, cv2.COLOR_BGR2GRAY)
        frames.append(Glanced(row["file"], i // 3 * 3600.0 + i % 3, str(i // 3), pack(gray)))
    found = [row.news or 0.0 for row in changes(frames)]
    return found, [row["label"] != "empty" for row in labels]
