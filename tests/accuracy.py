"""Writes docs/accuracy.md: what the estimators hold on invented data with fixed seeds.

`python tests/accuracy.py` makes all sections anew; naming some (clock, sign, answers, beds, makers,
pixels) makes only those and keeps the others as they stand. `--n N` makes so many of each instead
of the usual number. What stands between `<!-- by hand -->` and `<!-- end -->` is kept in its
section, ahead of what is made.
"""

from __future__ import annotations

import argparse
import importlib
import re
from collections.abc import Callable
from pathlib import Path

PAGE = Path(__file__).resolve().parents[1] / "docs" / "accuracy.md"
SECTIONS = {
    "clock": "The clock by the sun",
    "sign": "Beds from rub bearings",
    "answers": "The answers",
    "beds": "Where he beds",
    "makers": "Who made the rub",
    "pixels": "What the pixels say",
}
# Seasons of each kind in one run of all; other sections have their own usual number.
USUAL = {"answers": 100, "beds": 6, "makers": 6}
BY_HAND = re.compile(r"<!-- by hand -->.*?<!-- end -->", re.DOTALL)
HEAD = """# How accurate it is

Made by `python tests/accuracy.py` from invented data with fixed seeds, by simulators apart from the
demo's. Nothing here is a promise about real woods: where deer break an assumption, the interval is
wrong, and each answer's page says which assumption that is.
"""


def main() -> None:
    """Make the sections that are named and put them into the page."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("sections", nargs="*", choices=[*SECTIONS, []], default=[])
    words.add_argument("--n", type=int)
    given = words.parse_args()
    texts = standing()
    for name in given.sections or SECTIONS:
        rows: Callable[..., list[str]] = importlib.import_module(f"accuracy_{name}").rows
        n = USUAL.get(name) if given.n is None else given.n
        made = rows() if n is None else rows(**{_trial(name): n})
        texts[name] = remade(texts.get(name, ""), made)
        PAGE.write_text(page(texts), encoding="utf-8")


def _trial(name: str) -> str:
    return {"answers": "seasons"}.get(name, "n")


def remade(before: str, made: list[str]) -> str:
    """Give a section made anew, with what was written by hand in it."""
    return "\n\n".join([*BY_HAND.findall(before), "\n".join(made)])


def standing() -> dict[str, str]:
    """Give the sections of the page as it stands."""
    text = PAGE.read_text(encoding="utf-8") if PAGE.exists() else ""
    parts = {}
    for name, title in SECTIONS.items():
        _, _, after = text.partition(f"\n## {title}\n")
        body = after.split("\n## ")[0].strip()
        if body:
            parts[name] = body
    return parts


def page(texts: dict[str, str]) -> str:
    """Give the whole page."""
    sections = [f"\n## {title}\n\n{texts[n]}\n" for n, title in SECTIONS.items() if n in texts]
    return HEAD + "".join(sections)


if __name__ == "__main__":
    main()
