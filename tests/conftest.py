"""What test files share: the folder of outside samples, quiet homes for config and cache."""

from __future__ import annotations

from pathlib import Path

import hypothesis
import pytest

# A busy machine, or a first import inside an example, is no failure.
hypothesis.settings.register_profile("camsign", deadline=None)
hypothesis.settings.load_profile("camsign")

SAMPLES = Path(__file__).resolve().parents[2] / "shared" / "samples"


@pytest.fixture(scope="session")
def samples() -> Path:
    """The folder of other people's files; tests that want it are skipped where it is absent."""
    if not SAMPLES.is_dir():
        pytest.skip(f"no samples at {SAMPLES}")
    return SAMPLES


@pytest.fixture(autouse=True)
def _own_folders(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test reads or writes the user's own cache and config folders."""
    home = tmp_path_factory.mktemp("machine")
    monkeypatch.setenv("CAMSIGN_CACHE", str(home / "cache"))
    monkeypatch.setenv("CAMSIGN_CONFIG", str(home / "config"))
