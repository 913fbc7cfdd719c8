"""All that is said of a few small cards as they come in (intake_small.py), whole.

intake_small.json keeps it, so that no change goes unseen: results, receipts, frames with their
times. It was not taken on trust: what the cards were made of is counted by hand and asserted below,
and the words were read line by line.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from intake_small import KEPT, told
from test_answers_small import differences


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> Any:
    home = tmp_path_factory.mktemp("small")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CAMSIGN_CACHE", str(home / "cache"))
        patch.setenv("CAMSIGN_CONFIG", str(home / "config"))
        yield told(home / "cards")


def test_all_that_is_said_is_what_was_kept(said: dict[str, Any]) -> None:
    kept = json.loads(KEPT.read_text(encoding="utf-8"))
    assert kept.keys() == said.keys()
    found = [d for name in kept for d in differences(kept[name], said[name], name)]
    assert not found, "\n".join(found[:20])


def test_what_came_in_is_what_the_cards_were_made_of(said: dict[str, Any]) -> None:
    """The first card: 5 pictures with a time, one with it in its name, a clip, and 3 files that are
    none. The second: one known, two new, and one of CAM07 by its name."""
    counts = {name: (said[name]["files"], said[name]["new"], said[name]["known"])
              for name in ("dry", "first", "again", "second", "said")}  # fmt: skip
    assert counts == {"dry": (10, 7, 0), "first": (10, 7, 0), "again": (10, 0, 7),
                      "second": (4, 3, 1), "said": (2, 2, 0)}  # fmt: skip
    assert len(said["frames"]) == 7 + 3 + 2
    assert [c["camera"] for c in said["second"]["cards"]] == ["CAM03", "CAM07"]
    wipe = {name: said[name]["safe_to_wipe"] for name in counts}
    assert wipe == {"dry": False, "first": False, "again": True, "second": True, "said": True}
    assert len(said["receipts"]) == 4


def test_times_are_those_written_into_the_files(said: dict[str, Any]) -> None:
    """October 1 at 6:30 is 10:30 UTC; a name and a container tell no zone and are weak."""
    times = {f["card_path"].rpartition("/")[2]: (f["utc"], f["time_from"], f["weak"] is None)
             for f in said["frames"] if "100MEDIA" in f["card_path"]}  # fmt: skip
    assert times["IMG_0001.JPG"] == ("2025-10-01T10:30:00+00:00", "camera", True)
    assert times["20251001_065000.JPG"] == ("2025-10-01T10:50:00+00:00", "name", False)
    assert times["IMG_0006.MP4"] == ("2025-10-02T16:00:06+00:00", "container", False)


def test_nights_since_the_last_check_are_counted_by_hand(said: dict[str, Any]) -> None:
    """Hung on September 20, nothing to the night of the 30th: 11 of 12 nights; then October 2 to
    19, each ended by a sign of life."""
    (first,), (second, other) = said["first"]["since"], said["second"]["since"]
    assert (first["nights"], first["nights_watched"], first["nothing"][0]["nights"]) == (12, 1, 11)
    assert (second["nights"], second["nights_watched"], second["silent"]) == (18, 18, [])
    assert second["last_check"] == "2025-10-02T12:00:06-04:00"
    assert (other["camera"], other["nights"]) == ("CAM07", 0)
