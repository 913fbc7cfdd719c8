"""Bare `camsign` opens the pages: the browser is sent to them, Ctrl+C ends them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path

import pytest
from page_server import Running

from camsign.errors import USAGE
from camsign.logbook.far import Progress
from camsign.logbook.folder import create
from camsign.page.events import Hub
from camsign.page.jobs import Jobs

_NOTES = "import pathlib, sys; pathlib.Path(sys.argv[1]).write_text(sys.argv[2])"


def started(where: Path, words: list[str], env: Mapping[str, str]) -> subprocess.Popen[str]:
    """Run camsign as a person does, on a machine without a display."""
    kept = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    return subprocess.Popen(
        [sys.executable, "-m", "camsign", *words],
        stderr=subprocess.PIPE, text=True, cwd=where, env={**kept, **env},
    )  # fmt: skip


def address_of(process: subprocess.Popen[str]) -> str:
    assert process.stderr is not None
    first = process.stderr.readline()
    assert first.startswith("camsign: the pages are at http://127.0.0.1:"), first
    return first.split()[-1]


def ended(process: subprocess.Popen[str]) -> str:
    """End it as Ctrl+C does; give what it said meanwhile."""
    for _ in range(2):  # people press it twice
        process.send_signal(signal.SIGINT)
        time.sleep(0.05)
    process.wait(20)
    assert process.stderr is not None
    said = process.stderr.read()
    assert "Traceback" not in said
    assert process.returncode == 0, said
    return said


@pytest.mark.thorough
@pytest.mark.skipif(os.name != "posix", reason="Ctrl+C is sent as a signal")
def test_bare_camsign_sends_the_browser_to_the_first_page(tmp_path: Path) -> None:
    noted, script = tmp_path / "noted.txt", tmp_path / "browser.py"
    script.write_text(_NOTES)
    with_browser = {"BROWSER": f"{sys.executable} {script} {noted} %s"}
    process = started(tmp_path, [], with_browser)
    address = address_of(process)
    server = Running(process, address)
    home = server.ask("GET", "/", headers={"Accept": "text/html"})
    assert (home.status, home.headers["location"]) == (303, "/first")
    end = time.monotonic() + 10
    while not (noted.exists() and noted.read_text()) and time.monotonic() < end:
        time.sleep(0.05)
    assert noted.read_text() == address
    said = ended(process)
    assert "no logbook" in said and "Traceback" not in said


@pytest.mark.thorough
@pytest.mark.skipif(os.name != "posix", reason="Ctrl+C is sent as a signal")
def test_a_named_logbook_opens_and_without_a_display_the_address_is_told(tmp_path: Path) -> None:
    create(tmp_path / "hollow", "America/New_York", (44.1, -71.5), "imperial")
    process = started(tmp_path, ["--logbook", "hollow"], {})
    server = Running(process, address_of(process))
    assert server.ask("GET", "/", headers={"Accept": "text/html"}).headers["location"] == "/woods"
    said = ended(process)
    assert "type or paste this address" in said and "no logbook" not in said


@pytest.mark.thorough
@pytest.mark.skipif(os.name != "posix", reason="Ctrl+C is sent as a signal")
def test_the_only_logbook_in_a_folder_here_goes_on(tmp_path: Path) -> None:
    create(tmp_path / "hollow", "America/New_York", (44.1, -71.5), "imperial")
    process = started(tmp_path, [], {})
    server = Running(process, address_of(process))
    assert server.ask("GET", "/", headers={"Accept": "text/html"}).headers["location"] == "/woods"
    ended(process)
    create(tmp_path / "ridge", "America/New_York", (44.1, -71.5), "imperial")
    process = started(tmp_path, [], {})
    _, said = process.communicate(timeout=20)
    assert process.returncode == USAGE and "hollow, ridge" in said


@pytest.mark.thorough
def test_a_logbook_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    process = started(tmp_path, ["--logbook", "nowhere"], {})
    _, said = process.communicate(timeout=20)
    assert process.returncode == USAGE
    assert len(said.splitlines()) == 1 and "nowhere" in said


def test_closing_lets_long_work_end_at_its_next_step() -> None:
    jobs, begun, ended = Jobs(Hub()), threading.Event(), threading.Event()

    def work(progress: Progress) -> None:
        try:
            for n in range(100_000):
                progress(n, 100_000)
                begun.set()
                time.sleep(0.001)
        finally:
            ended.set()

    job = jobs.start("Counting", work)
    assert begun.wait(10)
    jobs.close()
    assert ended.is_set()
    assert job.state == "failed" and "begin it again" in job.words


@pytest.mark.thorough
@pytest.mark.skipif(os.name != "posix", reason="Ctrl+C is sent as a signal")
@pytest.mark.parametrize("after_s", [0.0, 0.3, 1.5])
def test_ctrl_c_at_any_point_is_no_abort_and_no_traceback(tmp_path: Path, after_s: float) -> None:
    create(tmp_path / "book", "America/New_York", (44.1, -71.5), "imperial")
    process = started(tmp_path, ["--logbook", "book", "browse", "--quiet"], {})
    address_of(process)
    time.sleep(after_s)
    for _ in range(2):
        process.send_signal(signal.SIGINT)
        time.sleep(0.02)
    process.wait(30)
    assert process.stderr is not None and "Traceback" not in process.stderr.read()
    assert process.returncode in (0, 1, -signal.SIGINT)
