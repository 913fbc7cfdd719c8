"""Takes the pictures of the pages for docs/pictures, from the invented season.

    python tests/page_pictures.py [DEMO]

DEMO is a folder that `camsign demo` made; without it one is made (about a minute).
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from page_browser import browser
from page_server import running

PICTURES = Path(__file__).parent.parent / "docs" / "pictures"
SIZE = (1440, 900)


def main(demo: Path) -> None:
    """Write the pictures."""
    with running(demo / "logbook", demo) as server, browser() as b, b.window(server, *SIZE) as w:
        page = w.go("/sort")
        page.wait_for_timeout(1500)
        for key in ("ArrowDown", "ArrowDown", "ArrowDown"):
            page.keyboard.press(key)
        page.wait_for_timeout(1500)
        _keep(page, "page-sort")
        page = w.go("/map")
        page.locator("#panel button", has_text="Work it out").click()
        page.locator("#panel button", has_text="Hide it").wait_for()
        page.wait_for_timeout(1000)
        _keep(page, "page-map")
        page = w.go("/areas")
        page.locator("ol.ranked a").nth(1).click()
        page.locator(".part[aria-busy=true]").first.wait_for(state="detached")
        page.wait_for_timeout(1500)
        page.locator("h1").scroll_into_view_if_needed()
        _keep(page, "page-area")
        page = w.go("/cards")
        page.locator("#judge").click()
        page.locator("#findings > *").first.wait_for(state="attached")
        page.wait_for_timeout(500)
        page.evaluate("scrollTo(0, 0)")
        _keep(page, "page-cards")


def _keep(page: Any, name: str) -> None:
    photos = name == "page-sort"
    path = PICTURES / f"{name}.{'jpg' if photos else 'png'}"
    page.screenshot(path=path, **({"type": "jpeg", "quality": 72} if photos else {}))
    print(f"{path}: {path.stat().st_size >> 10} kB")


def _begin() -> None:
    with tempfile.TemporaryDirectory() as made:
        os.environ |= {"CAMSIGN_CACHE": f"{made}/cache", "CAMSIGN_CONFIG": f"{made}/config"}
        if len(sys.argv) > 1:
            return main(Path(sys.argv[1]))
        demo = Path(made) / "demo"
        subprocess.run([sys.executable, "-m", "camsign", "demo", str(demo)], check=True)
        return main(demo)


if __name__ == "__main__":
    _begin()
