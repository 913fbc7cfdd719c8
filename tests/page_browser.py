"""The system's own Chromium, headless, through playwright; and axe-core from the npm registry.

Skipped where they are absent, never in CI. axe-core is fetched by npm into this machine's cache (it
is test-only, 600 kB, and under MPL-2.0, so it is not kept in the repository); its hash is pinned.
"""

from __future__ import annotations

import base64
import hashlib
import os
import re
import shutil
import subprocess
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import platformdirs
import pytest

AXE = "axe-core@4.14.1"
AXE_SHA512 = (
    "FHfa+lmNjQZfJz1q8wKqIDwC6DExcHt/pkjNQb09a3NPjCKg2rhu5qb2S4r76ASyFNNtuFooJpZe37OgudVGtQ=="
)
ARGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]
_SERIOUS = ("serious", "critical")

SLOW = """const real = window.fetch;
window.fetch = async (...asked) => {
    await new Promise((done) => setTimeout(done, 700));
    return real(...asked);
};"""
"""A script after which every answer takes its time, as on a slow machine."""


def _missing(what: str) -> None:
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and CI must not skip the pages' tests")
    pytest.skip(f"{what} is missing: the pages are not tried in a browser here")


def chromium() -> str:
    """Give the path of Chromium; skip, or in CI fail, without it."""
    names = (os.environ.get("CAMSIGN_CHROMIUM"), "chromium", "chromium-browser")
    found = next((path for name in names if name and (path := shutil.which(name))), None)
    if found is None:
        _missing("Chromium")
    return str(found)


@dataclass
class Browser:
    """A running Chromium."""

    chromium: Any

    @contextmanager
    def window(self, server: Any, width: int = 1440, height: int = 900) -> Iterator[Window]:
        """Open a window on a server; fails if a page asked anything of another machine or erred."""
        context = self.chromium.new_context(viewport={"width": width, "height": height})
        window = Window(context, server)
        context.on("request", lambda r: window.asked.append(r.url))
        page = window.open(server.first)
        window.page = page
        yield window
        context.close()
        own = (f"http://{server.address}/", "blob:http://" + server.address, "data:")
        abroad = [url for url in window.asked if not url.startswith(own)]
        if abroad or window.errors:
            pytest.fail(f"asked elsewhere: {abroad}; errors: {window.errors[:5]}")


@dataclass
class Window:
    """A browser window with its own cookies; `page` is its first page."""

    context: Any
    server: Any
    page: Any = None
    asked: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)

    def open(self, address: str) -> Any:
        """Open another page of the same browser."""
        page = self.context.new_page()
        page.on("pageerror", lambda e: self.errors.append(str(e)))
        page.on("console", lambda m: self.errors.append(m.text) if m.type == "error" else None)
        page.goto(address)
        return page

    def go(self, path: str) -> Any:
        """Go to a path of the server on the first page."""
        self.page.goto(f"http://{self.server.address}{path}")
        return self.page


@contextmanager
def browser() -> Iterator[Browser]:
    """Start Chromium."""
    path = chromium()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as p:
        started = p.chromium.launch(executable_path=path, args=ARGS)
        yield Browser(started)
        started.close()


def printed(page: Any) -> int:
    """Count the sheets of paper that a page is printed on."""
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))


def axe() -> str:
    """Give the text of axe.min.js, fetched once by npm and checked against its hash."""
    folder = Path(platformdirs.user_cache_path("camsign-tests")) / AXE.replace("@", "-")
    package = folder / "package.tgz"
    if not package.exists():
        npm = shutil.which("npm")
        if npm is None:
            _missing("npm")
        folder.mkdir(parents=True, exist_ok=True)
        done = subprocess.run(
            [str(npm), "pack", AXE, "--silent"], cwd=folder, capture_output=True, text=True
        )
        if done.returncode:
            _missing(f"{AXE} from the npm registry ({done.stderr.strip()[:200]})")
        (folder / done.stdout.strip().splitlines()[-1]).replace(package)
    digest = base64.b64encode(hashlib.sha512(package.read_bytes()).digest()).decode()
    assert digest == AXE_SHA512, f"{package} is not {AXE}: delete it"
    with tarfile.open(package) as tar:
        member = tar.extractfile("package/axe.min.js")
        assert member is not None
        return member.read().decode()


def faults(page: Any) -> list[str]:
    """Give the serious and critical faults that axe-core finds on a page."""
    page.evaluate(axe())
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
    return [
        f"{v['id']}: {v['help']} at {[n['target'] for n in v['nodes']][:3]}"
        for v in found
        if v["impact"] in _SERIOUS
    ]
