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


# Each behind what it needs itself, so that the difference is its own.
IMPORTS = {
    "numpy": "", "duckdb": "numpy", "pandas": "numpy", "scipy.special": "numpy",
    "scipy.stats": "numpy, scipy.special", "matplotlib.pyplot": "numpy", "shapely": "numpy",
    "pyproj": "", "cv2": "numpy", "typer": "", "rich.table": "", "camsign": "",
    "camsign.cli.app": "typer",
}  # fmt: skip


def test_what_each_import_costs() -> None:
    """Printed for docs/speed.md; what an answer cannot do without must stay the larger part."""
    costs = {}
    for name, before in IMPORTS.items():
        without, with_it = (f"import {words.strip(', ')}" if words.strip(", ") else "pass"
                            for words in (before, f"{before}, {name}"))  # fmt: skip
        pairs = [spent("-c", with_it) - spent("-c", without) for _ in range(7)]
        costs[name] = 1000 * statistics.median(pairs)
        print(f"{name:20s} {costs[name]:5.0f} ms of processor time")
    assert costs["camsign"] < costs["numpy"]
    assert costs["camsign.cli.app"] < costs["numpy"] + costs["duckdb"]
