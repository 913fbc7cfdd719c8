"""What camsign has to know of a detector: the small TOML file beside it, read and checked."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from camsign.errors import InputRefused

MEANINGS = ("animal", "person", "vehicle")
LAYOUTS = ("detections", "candidates", "boxes and scores")
_LARGEST = 4096

Three = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Recipe:
    """How pictures go into a network and what comes out of it; docs/pixels.md explains each.

    width, height: of its input [pixels]. Each value goes in as (value - mean) * scale, by channel
    in the network's order. `pad`: fill up to its shape instead of stretching. `meanings`: of each
    class by its number, animal, person, vehicle or "" for whatever else. `graph`: the text graph
    of a frozen one. `text`: the whole file.
    """

    width: int
    height: int
    scale: Three
    mean: Three
    rgb: bool
    pad: bool
    channels_last: bool
    meanings: tuple[str, ...]
    layout: str
    corners: bool
    in_pixels: bool
    objectness: bool
    logits: bool
    least_score: float
    graph: Path | None
    text: str


def read_recipe(path: Path) -> Recipe:
    """Read the TOML beside a detector.

    Raises:
        InputRefused: there is none, or it is not what docs/pixels.md describes.
    """
    try:
        text = path.read_text(encoding="utf-8")
        tables = tomllib.loads(text)
    except FileNotFoundError:
        raise InputRefused(
            f"{path} is missing: it says what goes into the detector and what comes out",
            "write it as docs/pixels.md shows",
        ) from None
    except (OSError, ValueError) as e:  # also of TOML and of UTF-8
        raise InputRefused(f"{path} cannot be read: {e}", "put that line right") from None
    return _Reader(path, tables).recipe(text)


class _Reader:
    """Takes values out of the tables; what is left over or wrong is refused by name."""

    def __init__(self, path: Path, tables: Mapping[str, Any]) -> None:
        self._path = path
        self._left = {f"[{name}]": dict(t) for name, t in tables.items() if isinstance(t, dict)}
        self._left[""] = {k: v for k, v in tables.items() if not isinstance(v, dict)}

    def recipe(self, text: str) -> Recipe:
        names = self.take("[classes]", "names", _texts)
        layout = self.choice("[output]", "layout", LAYOUTS)
        unit = "shares" if layout == "detections" else "pixels"
        graph = self.take("[model]", "graph", _text, "")
        out = Recipe(
            width=self.take("[input]", "width", _side),
            height=self.take("[input]", "height", _side),
            scale=self.take("[input]", "scale", _three, (1.0, 1.0, 1.0)),
            mean=self.take("[input]", "mean", _three, (0.0, 0.0, 0.0)),
            rgb=self.choice("[input]", "channels", ("RGB", "BGR"), "RGB") == "RGB",
            pad=self.choice("[input]", "fit", ("stretch", "pad"), "stretch") == "pad",
            channels_last=self.choice("[input]", "order", ("NCHW", "NHWC"), "NCHW") == "NHWC",
            meanings=self._meanings(names),
            layout=layout,
            corners=self.choice("[output]", "boxes", ("centre", "corners"), "centre") == "corners",
            in_pixels=self.choice("[output]", "unit", ("pixels", "shares"), unit) == "pixels",
            objectness=self.take("[output]", "objectness", _flag, False),
            logits=self.choice("[output]", "scores", ("shares", "logits"), "shares") == "logits",
            least_score=self.take("[output]", "least_score", _share, 0.25),
            graph=self._path.parent / graph if graph else None,
            text=text,
        )
        self._nothing_left()
        return out

    def _meanings(self, names: tuple[str, ...]) -> tuple[str, ...]:
        found: dict[str, str] = {}
        for meaning in MEANINGS:
            for name in self.take("[classes]", meaning, _texts, ()):
                if name not in names:
                    raise self._wrong("[classes]", meaning, f"{name!r}, which is not in names")
                if found.setdefault(name, meaning) != meaning:
                    raise self._wrong("[classes]", meaning, f"{name!r}, which is {found[name]} too")
        if not found:
            raise self._wrong("[classes]", "animal", "nothing, nor do person and vehicle")
        return tuple(found.get(name, "") for name in names)

    def choice(self, table: str, key: str, of: tuple[str, ...], default: str = "") -> str:
        said: str = self.take(table, key, _text, default or None)
        if said not in of:
            words = ", ".join(f'"{one}"' for one in of)
            raise self._wrong(table, key, f"{said!r}; it can be {words}")
        return said

    def take(self, table: str, key: str, check: Callable[[Any], Any], default: Any = None) -> Any:
        values = self._left.get(table, {})
        if key not in values:
            if default is None:
                raise InputRefused(
                    f"{self._path}: {table} {key} is missing", "docs/pixels.md shows what it says"
                )
            return default
        said = values.pop(key)
        try:
            return check(said)
        except OverflowError:
            raise self._wrong(table, key, "too large a number") from None
        except (TypeError, ValueError) as e:
            raise self._wrong(table, key, f"{said!r}; it must be {e}") from None

    def _wrong(self, table: str, key: str, what: str) -> InputRefused:
        return InputRefused(f"{self._path}: {table} {key} says {what}", "put that right")

    def _nothing_left(self) -> None:
        for table, values in self._left.items():
            for key in values:
                raise InputRefused(
                    f"{self._path}: {table} {key} means nothing".replace("  ", " "),
                    "docs/pixels.md lists all that can be said",
                )


def _side(said: Any) -> int:
    if isinstance(said, bool) or not isinstance(said, int) or not 8 <= said <= _LARGEST:
        raise ValueError(f"a whole number of pixels, 8 to {_LARGEST}")
    return said


def _number(said: Any) -> float:
    if isinstance(said, bool) or not isinstance(said, int | float):
        raise ValueError("a number or a list of three")
    return float(said)


def _three(said: Any) -> Three:
    values = said if isinstance(said, list) else [said] * 3
    if len(values) != 3:
        raise ValueError("a number or a list of three")
    a, b, c = (_number(v) for v in values)
    return a, b, c


def _share(said: Any) -> float:
    if isinstance(said, bool) or not isinstance(said, int | float) or not 0 < said < 1:
        raise ValueError("a number between 0 and 1")
    return float(said)


def _flag(said: Any) -> bool:
    if not isinstance(said, bool):
        raise ValueError("true or false")
    return said


def _text(said: Any) -> str:
    if not isinstance(said, str):
        raise ValueError("a text")
    return said


def _texts(said: Any) -> tuple[str, ...]:
    if not isinstance(said, list) or not said or not all(isinstance(one, str) for one in said):
        raise ValueError("a list of names")
    return tuple(said)
