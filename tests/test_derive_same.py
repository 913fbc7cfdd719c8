"""The derived tables are the same whether they grew act by act or were made again at once."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from derive_world import TZ, Shot, book, derived, frame_id, hang, put_card, rebuilt, rows, say

from camsign.logbook.edits import Edit, SetFields, Subject, TagFrames, TakeBack, UntagFrames
from camsign.logbook.folder import Folder

CAMERAS = ("CAM1", "CAM2", "CAM3")


class Season:
    """Says random but sensible things to a logbook."""

    def __init__(self, home: Folder, seed: int) -> None:
        self.home, self.rng = home, random.Random(seed)
        self.acts: list[str] = []
        self.cards = 0

    def day(self) -> str:
        return f"2025-{self.rng.randint(9, 12):02d}-{self.rng.randint(1, 28):02d}"

    def place(self) -> tuple[float, float]:
        return 44.1 + self.rng.uniform(-0.02, 0.02), -71.2 + self.rng.uniform(-0.02, 0.02)

    def card(self) -> None:
        shots = []
        for _ in range(self.rng.randint(1, 30)):
            hour = self.rng.randint(0, 23)
            shown = f"{self.day()}T{hour:02d}:{self.rng.randint(0, 59):02d}:00"
            if self.rng.random() < 0.05:
                shown = self.rng.choice([None, "1970-01-01T00:00:00", "2025-11-02T01:30:00"])
            shots.append(Shot(shown, offset_minutes=self.rng.choice([None, None, -300, 60])))
        # Some pictures stand on two cards.
        names = [f"f{self.rng.randint(0, 3000)}" for _ in shots]
        for shot, name in zip(shots, names, strict=True):
            shot.name = name
        self.cards += 1
        put_card(self.home, f"k{self.cards:03d}", self.rng.choice(CAMERAS), shots)

    def edits(self) -> list[Edit]:
        rng = self.rng
        pick = rng.randint(0, 10)
        if pick == 0:
            camera = rng.choice(CAMERAS)
            down = rng.choice([None, "2025-12-24T20:00:00Z"])
            rule = rng.choice(["hung", "local", "-06:00"])
            tz = rng.choice([None, None, "America/Chicago"])
            return [
                hang(camera, f"{self.day()}T15:00:00Z", down, f"d-{rng.randint(1, 6)}",
                     self.place(), clock=rule, tz=tz, worked_to_end=rng.random() < 0.5,
                     gone=rng.random() < 0.1)
            ]  # fmt: skip
        if pick == 1:
            span = {"start": f"{self.day()}T00:00:00Z", "stop": f"{self.day()}T00:00:00Z"}
            return [SetFields("outage", f"o-{rng.randint(1, 3)}", span | {"camera": "CAM1"})]
        if pick == 2:
            said = rng.choice([("shift", 600), ("utc_offset", "-05:00"), ("local", None)])
            fix = {"camera": rng.choice(CAMERAS), "kind": said[0], "value": said[1]}
            fix |= {"shown_from": rng.choice([None, f"{self.day()}T00:00:00"])}
            if rng.random() < 0.5:
                fix |= {"from_frame": rng.choice(self.frames() or [None])}
            return [SetFields("clock_fix", f"c-{rng.randint(1, 3)}", fix)]
        if pick == 3 and self.cards:
            card = f"k{rng.randint(1, self.cards):03d}"
            return [SetFields("card", card, {"camera": rng.choice(CAMERAS)})]
        if pick in (4, 5):
            lat, lon = self.place()
            i = rng.randint(1, 8)
            sign = {"kind": rng.choice(["rub", "scrape", "bed"]), "lat": lat, "lon": lon}
            sighting = {"sign": f"s-{i}", "seen_on": self.day(), "gone": rng.random() < 0.1}
            return [SetFields("sign", f"s-{i}", sign), SetFields("sighting", f"g-{i}", sighting)]
        if pick == 6:
            shape = {"circle": [*self.place(), rng.uniform(20, 300)]}
            area = {"name": "A", "kind": "bedding", "shape": shape, "gone": rng.random() < 0.2}
            return [SetFields("area", f"a-{rng.randint(1, 3)}", area)]
        if pick == 7 and self.acts:
            return [TakeBack([rng.choice(self.acts)])]
        frames = self.frames()
        if pick == 8:
            return [UntagFrames(None, frames)]
        subject = rng.choice(
            [Subject("buck", "b-1"), Subject("deer", sex="doe"), Subject("nothing")]
        )
        return [TagFrames(subject, frames)]

    def frames(self) -> list[str]:
        known = [r[0] for r in rows(self.home, "SELECT frame FROM frames ORDER BY frame")]
        some = self.rng.sample(known, min(len(known), 20))
        return some or [frame_id("k", "none")[:16]]

    def step(self) -> None:
        if self.rng.random() < 0.15:
            self.card()
        else:
            self.acts.append(say(self.home, *self.edits()))


def grows_as_it_is_rebuilt(path: Path, seed: int, steps: int) -> None:
    home = book(path / "book")
    season = Season(home, seed)
    season.card()
    for i in range(steps):
        season.step()
        if i % 12 == 5:
            assert derived(home) == rebuilt(home)
    grown = derived(home)
    assert grown == rebuilt(home)
    # It was no empty comparison.
    full = {table for table, content in grown.items() if content}
    assert full >= {"clock_pieces", "frame_times", "watch", "sun_days", "zone_offsets"}


@pytest.mark.thorough
@pytest.mark.parametrize("seed", [0, pytest.param(1, marks=pytest.mark.long)])
def test_grown_act_by_act_or_made_again_at_once(tmp_path: Path, seed: int) -> None:
    grows_as_it_is_rebuilt(tmp_path, seed, 14)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 110))
def test_grown_act_by_act_at_length(tmp_path: Path, seed: int) -> None:
    grows_as_it_is_rebuilt(tmp_path, seed, 100)


@pytest.mark.thorough
def test_all_tables_are_filled_and_the_same(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    frames = put_card(home, "k1", "CAM1", [Shot(f"2025-10-{d:02d}T07:00:00") for d in range(1, 28)])
    say(home, hang("CAM1", "2025-09-30T15:00:00Z", "2025-11-10T15:00:00Z"))
    say(home, SetFields("sign", "s-1", {"kind": "rub", "lat": 44.101, "lon": -71.2}))
    say(home, SetFields("sighting", "g-1", {"sign": "s-1", "seen_on": "2026-03-14"}))
    circle = {"name": "Bench", "kind": "bedding", "shape": {"circle": [44.1, -71.2, 90]}}
    say(home, SetFields("area", "a-1", circle))
    act = say(home, TagFrames(Subject("buck", "b-1"), frames[:-1]))
    before = derived(home)
    empty = {table for table, content in before.items() if not content}
    assert empty == {"frame_twins", "held_twice", "several_bucks", "conflicts"}
    assert before == rebuilt(home)
    say(home, TakeBack([act]))
    assert derived(home)["detections"] == []
    now, follow = derived(home), ("detections", "unsorted", "tags", "lines_read")
    assert now | {name: before[name] for name in follow} == before


@pytest.mark.thorough
def test_a_card_that_another_logbook_also_held(tmp_path: Path) -> None:
    # The same picture on two cards of two cameras stands once, by the card whose id sorts first.
    home = book(tmp_path / "book")
    put_card(home, "m", "CAM1", [Shot("2025-10-01T07:00:00", name="x")])
    say(home, hang("CAM1", "2025-09-01T00:00:00Z"), hang("CAM2", "2025-09-01T00:00:00Z"))
    derived(home)
    put_card(home, "a", "CAM2", [Shot("2025-10-01T07:00:00", name="x")])
    assert derived(home) == rebuilt(home)


@pytest.mark.thorough
def test_a_setting_that_changes_is_carried_through(tmp_path: Path) -> None:
    home = book(tmp_path / "book")
    put_card(home, "k", "CAM1", [Shot("2025-10-01T07:00:00"), Shot("2025-10-01T07:00:20")])
    say(home, hang("CAM1", "2025-09-01T00:00:00Z"))
    bursts = "SELECT count(DISTINCT burst) FROM frame_times"
    assert rows(home, bursts) == [(2,)]
    toml = home.root / "logbook.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(text.replace("burst_gap_s = 10", "burst_gap_s = 30"), encoding="utf-8")
    assert rows(Folder(home.root), bursts) == [(1,)]
    assert TZ in text
