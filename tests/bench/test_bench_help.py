"""How quickly `camsign --help` comes, against importing typer and nothing else."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

pytestmark = pytest.mark.bench


def best(*words: str, times: int = 15) -> float:
    took = []
    for _ in range(times):
        began = time.perf_counter()
        subprocess.run([sys.executable, *words], check=True, capture_output=True)
        took.append(time.perf_counter() - began)
    return min(took)


def test_help_takes_at_most_twice_an_import_of_typer() -> None:
    base = best("-c", "import typer")
    ours = best("-m", "camsign", "--help")
    print(f"\n--help: {ours * 1000:.0f} ms, import typer: {base * 1000:.0f} ms, {ours / base:.2f}x")
    assert ours <= 2 * base
