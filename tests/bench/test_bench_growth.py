"""What a new card, a tag and an opening cost in a large logbook, against an empty one.

Processor time, as ratios of what the same card costs in an empty logbook in the same process:
docs/speed.md has the curves (`tests/bench/curves.py`).
"""

from __future__ import annotations

from pathlib import Path

import pytest
from curves import measured

pytestmark = pytest.mark.bench
MOST_CARD = 1.3
"""A new card costs at most so many times what it costs in an empty logbook."""
MOST_TAG = 0.06
MOST_WARM = 0.05
"""A tag, and an opening with nothing new, cost at most these shares of the card."""


@pytest.mark.parametrize(
    "size", [pytest.param(100_000, id="a tenth"), pytest.param(1_000_000, id="a million")]
)
def test_acts_cost_what_they_cost_in_an_empty_logbook(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int
) -> None:
    def costs(name: str, count: int) -> dict[str, float]:
        home = tmp_path / name
        home.mkdir()
        monkeypatch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        monkeypatch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        return measured(home, count)

    costs("first", 0)  # loads what the others find loaded
    empty, large = costs("empty", 0)["card"], costs("large", size)
    ratios = {act: large[act] / empty for act in ("card", "tag", "warm")}
    print(f"\n{size} pictures, against a card into an empty logbook ({empty:.2f} s): {ratios}")
    assert ratios["card"] <= MOST_CARD
    assert ratios["tag"] <= MOST_TAG
    assert ratios["warm"] <= MOST_WARM
