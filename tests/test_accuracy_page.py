"""The page on accuracy: it is what its sections make, and what was written by hand stays."""

from __future__ import annotations

from accuracy import PAGE, SECTIONS, page, remade, standing


def test_the_page_is_its_sections_and_nothing_else() -> None:
    texts = standing()
    assert set(texts) == set(SECTIONS)
    assert page(texts) == PAGE.read_text(encoding="utf-8")


def test_what_was_written_by_hand_stays_ahead_of_what_is_made() -> None:
    before = "<!-- by hand -->\nlooked at.\n<!-- end -->\n\n| old |\n|---|"
    assert remade(before, ["| new |", "|---|"]) == (
        "<!-- by hand -->\nlooked at.\n<!-- end -->\n\n| new |\n|---|"
    )
    assert remade("| old |", ["| new |"]) == "| new |"
