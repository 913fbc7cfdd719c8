"""What test files share: the folder of outside samples, quiet homes for config and cache."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import hypothesis
import pytest
from page_browser import Browser, browser

# A busy machine, or a first import inside an example, is no failure.
hypothesis.settings.register_profile("camsign", deadline=None)
hypothesis.settings.load_profile("camsign")

# The processes that tests start compile the package once, not each of them anew.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# What a module or a session makes before the first test of it stays out of the user's folders too.
_MACHINE = tempfile.TemporaryDirectory(prefix="camsign-tests-")
os.environ["CAMSIGN_CACHE"] = f"{_MACHINE.name}/cache"
os.environ["CAMSIGN_CONFIG"] = f"{_MACHINE.name}/config"

SAMPLES = Path(__file__).resolve().parents[2] / "shared" / "samples"


def pytest_configure(config: pytest.Config) -> None:
    """Several workers take whole files, so that what a file's tests share is made once."""
    if getattr(config.option, "dist", "no") == "load":
        config.option.dist = "loadfile"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Many repetitions and measurements take the time they take; all else that long hangs."""
    for item in items:
        if item.get_closest_marker("long") or item.get_closest_marker("bench"):
            item.add_marker(pytest.mark.timeout(0))


@pytest.fixture(scope="session")
def samples() -> Path:
    """The folder of other people's files; tests that want it are skipped where it is absent."""
    if not SAMPLES.is_dir():
        pytest.skip(f"no samples at {SAMPLES}")
    return SAMPLES


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """The system's browser, running; skipped where it is absent, never in CI."""
    with browser() as started:
        yield started


_VERSIONS: dict[str, bytes] = {}


@pytest.fixture(autouse=True)
def _own_folders(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """No test reads or writes the user's own cache and config folders.

    What was found of the code's own versions is handed on: reading all of it takes a process a
    second or more.
    """
    home = tmp_path_factory.mktemp("machine")
    monkeypatch.setenv("CAMSIGN_CACHE", str(home / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(home / "config"))
    for name, data in _VERSIONS.items():
        (home / "cache").mkdir(exist_ok=True)
        (home / "cache" / name).write_bytes(data)
    yield
    for path in (home / "cache").glob("versions-*.json"):
        _VERSIONS[path.name] = path.read_bytes()
