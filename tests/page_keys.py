"""Counts the keys it takes to sort visits, by pressing them.

    python tests/page_keys.py LOGBOOK [VISITS]

LOGBOOK is a finished one, such as the demo's, and is copied. In the copy the newest VISITS (100)
are untagged and then tagged anew in Chromium as a person does who knows what is in them: once with
the keys that were always there, once also with `A` (same as last) and `N` (all likely-empty in
sight). What stands in the end is held against what stood before. Names are typed only where
there is no key, and only until the box offers the right one; every letter counts.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from page_browser import browser
from page_server import Running, running

COMMON = {"nothing": "0", "doe": "d", "fawn": "y", "buck": "i", "person": "p"}
READY = """() => {
    const tile = document.querySelector('.tile[aria-current]');
    const strip = tile?.closest('.strip').querySelector('.tile').dataset.frame;
    return strip && document.querySelector('#likely').dataset.strip === strip
        && !document.querySelector('.tile.pending');
}"""
HERE = """() => {
    const strip = document.querySelector('.tile[aria-current]').closest('.strip');
    return [...strip.querySelectorAll('.tile')].map(t => t.dataset.frame);
}"""
DIGITS = """() => [...document.querySelectorAll('#likely button')].map(
    b => [b.querySelector('.buck').innerText, b.querySelector('kbd').innerText])"""
BOX = """() => document.querySelector('.box[open]')
    ? document.querySelector('.box [aria-selected=true]')?.innerText ?? '' : null"""

Said = dict[str, tuple[str, ...]]


class Hand:
    """Presses keys and counts them."""

    def __init__(self, page: Any, quick: bool) -> None:
        self.page, self.quick, self.keys = page, quick, 0
        self.last: tuple[str, ...] | None = None

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)
        self.keys += len(keys)

    def ready(self) -> None:
        self._until(lambda: self.page.evaluate(READY))

    def _until(self, so: Callable[[], bool]) -> None:
        end = time.monotonic() + 30
        while not so():
            assert time.monotonic() < end, "the page never came to it"
            self.page.wait_for_timeout(15)

    def say(self, subjects: tuple[str, ...]) -> None:
        """Tag what is in reach, each subject but the last with Shift, which stays."""
        if self.quick and subjects == self.last and len(subjects) == 1:
            return self.press("a")
        for n, subject in enumerate(subjects):
            self._one(subject, stay=n < len(subjects) - 1)
        self.last = subjects
        return None

    def _one(self, subject: str, stay: bool) -> None:
        self.ready()
        key = COMMON.get(subject) or dict(self.page.evaluate(DIGITS)).get(subject)
        if key is not None:
            return self.press(f"Shift+{key}" if stay and key != "0" else key)
        self.press("w")
        self._until(lambda: self.page.evaluate(BOX) is not None)
        for letter in ("", *subject):
            if letter:
                self.press(letter)
            if self.page.evaluate(BOX) == subject:
                break
        self.press("Shift+Enter" if stay else "Enter")
        self._until(lambda: self.page.evaluate(BOX) is None)
        return None


def sort(page: Any, said: Said, visits: list[list[str]], quick: bool) -> int:
    """Tag the visits that are listed as they were tagged before; give the keys it took."""
    hand = Hand(page, quick)
    left = len(visits)
    hand.ready()
    if quick:
        hand.press("e", "n", "Home")
        hand.ready()
    done: set[str] = set()
    while left:
        hand.ready()
        frames = page.evaluate(HERE)
        if done & set(frames):
            break
        left -= 1
        done |= set(frames)
        _visit(hand, frames, said)
    return hand.keys


def _visit(hand: Hand, frames: list[str], said: Said) -> None:
    runs: list[tuple[str, ...]] = []
    for frame in frames:
        if not runs or runs[-1] != said[frame]:
            runs.append(said[frame])
    if len(runs) == 1:
        return hand.say(runs[0])
    hand.press("f")
    for frame in frames:
        hand.say(said[frame])
    return hand.press("v")


def told(server: Running, frames: list[str]) -> Said:
    """Give who stands on each frame, in the page's words."""
    out: Said = {}
    for at in range(0, len(frames), 2000):
        tags = server.post("/sort/frames", {"frames": frames[at : at + 2000]})["frames"]
        out |= {f: tuple(sorted(_word(t) for t in tags[f])) for f in tags}
    return out


def _word(tag: dict[str, Any]) -> str:
    words = str(tag["words"])
    return {"nothing there": "nothing", "unknown buck": "buck"}.get(words, words)


def listed(server: Running, query: str = "") -> list[list[str]]:
    answer = server.get(f"/sort/list{query}")
    found: list[list[str]] = []
    for part, counts in answer["parts"].items():
        for at in range(0, counts["strips"], 100):
            query = f"list={answer['list']}&part={part}&at={at}&count=100"
            got = server.get(f"/sort/strips?{query}")["strips"]
            found += [[f["frame"] for f in s["frames"]] for s in got]
    return found


def main(logbook: Path, most: int) -> None:
    """Print the keys that both ways take."""
    for quick in (False, True):
        with tempfile.TemporaryDirectory() as made:
            copy = Path(made) / "book"
            shutil.copytree(logbook, copy)
            os.environ |= {"CAMSIGN_CACHE": f"{made}/c", "CAMSIGN_CONFIG": f"{made}/k"}
            with running(copy, Path(made)) as server, browser() as b:
                visits = [v for v in listed(server, "?tagged=yes") if v]
                said = told(server, [f for v in visits for f in v])
                chosen = [v for v in visits if all(said[f] for f in v)][:most]
                frames = [f for v in chosen for f in v]
                server.post("/sort/untag", {"frames": frames})
                others = [v for v in listed(server, "?tagged=no") if v not in chosen]
                server.post("/sort/tag", {"frames": [f for v in others for f in v], "said": "deer"})
                with b.window(server) as window:
                    page = window.go("/sort?tagged=no")
                    keys = sort(page, said, chosen, quick)
                    page.wait_for_timeout(1000)
                    now = told(server, frames)
            for f in frames:
                if now[f] != said[f]:
                    print("  ", f, said[f], now[f], file=sys.stderr)
            wrong = [f for f in frames if now[f] != said[f]]
            nothing = sum(said[v[0]] == ("nothing",) for v in chosen)
            print(
                f"{'with A and N' if quick else 'without'}: {keys} keys, {len(chosen)} visits, "
                f"{len(frames)} pictures, {nothing} of them nothing; {len(wrong)} tagged otherwise"
            )


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 100)
