"""Writes docs/accuracy.md: what the estimators hold on made-up data with fixed seeds.

`python tests/accuracy.py` makes all sections anew; naming some (clock, sign, answers, beds, when,
compare, makers, sits, said, pixels, taught, likely) makes only those and keeps the others as they
stand. So many of each are made as a quiet machine makes within a quarter of an hour; `--full` makes
as many as tell small differences apart (hours), `--n N` so many of each. The page says how many.
What stands between `<!-- by hand -->` and `<!-- end -->` is kept in its section, ahead of what is
made.
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
    "when": "When he is there",
    "compare": "Which area deserves the sits",
    "makers": "Who made the rub",
    "sits": "Where to sit tonight",
    "said": "What else is said",
    "pixels": "What the pixels say",
    "taught": "What tags teach the pixels",
    "likely": "Who could this be",
}
# So many of each in a run within a quarter of an hour, and in a full one.
USUAL = {
    "clock": 60,
    "sign": 20,
    "answers": 20,
    "beds": 3,
    "when": 10,
    "compare": 3,
    "makers": 2,
    "sits": 30,
    "said": 30,
    "pixels": 2,
    "taught": 4,
    "likely": 3,
}
FULL = {
    "clock": 200,
    "sign": 200,
    "answers": 500,
    "beds": 100,
    "when": 100,
    "compare": 50,
    "makers": 20,
    "sits": 200,
    "said": 200,
    "pixels": 12,
    "taught": 12,
    "likely": 12,
}
BY_HAND = re.compile(r"<!-- by hand -->.*?<!-- end -->", re.DOTALL)
HEAD = """# How accurate it is

Made by `python tests/accuracy.py` from made-up data with fixed seeds, by simulators apart from the
demo's; each section says of how many (`--n`). What some begin with, trials before and since a
change, was written by hand then, and is not made anew: it tells of the program as it was.
Nothing here is a promise about real woods: where deer break an assumption, the interval is
wrong, and each answer's page says which assumption that is.
"""


def main() -> None:
    """Make the sections that are named and put them into the page."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("sections", nargs="*", choices=[*SECTIONS, []], default=[])
    words.add_argument("--n", type=int, help="so many of each")
    words.add_argument("--full", action="store_true", help="many of each: hours")
    given = words.parse_args()
    texts = standing()
    for name in given.sections or SECTIONS:
        rows: Callable[..., list[str]] = importlib.import_module(f"accuracy_{name}").rows
        n = given.n or (FULL if given.full else USUAL)[name]
        made = rows(**{_trial(name): n})
        texts[name] = remade(texts.get(name, ""), made)
        PAGE.write_text(page(texts), encoding="utf-8")


def _trial(name: str) -> str:
    return {"answers": "seasons"}.get(name, "n")


def remade(before: str, made: list[str]) -> str:
    """Give a section made anew, with what was written by hand in it."""
    return "\n\n".join([*BY_HAND.findall(before), "\n".join(made).strip()])


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
