"""How quickly an answer starts, against importing what it cannot do without, by processor time."""

from __future__ import annotations

import resource
import shutil
import statistics
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.bench

BOOK = Path(__file__).parents[2] / "fixtures" / "logbooks" / "quiet-ridge"


def spent(*words: str) -> float:
    """Processor time of a process [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *words], check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def test_visits_take_at_most_two_and_a_half_times_the_imports(tmp_path: Path) -> None:
    shutil.copytree(BOOK, tmp_path / "book")
    words = ("-m", "camsign", "--logbook", str(tmp_path / "book"), "visits")
    spent(*words)  # makes the database
    ratios = [spent(*words) / spent("-c", "import duckdb, pandas") for _ in range(7)]
    print(f"\nvisits: {statistics.median(ratios):.2f}x of import duckdb, pandas")
    assert statistics.median(ratios) <= 2.5
