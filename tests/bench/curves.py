"""How the cost of each act grows with the logbook, from 10,000 pictures to a million.

`python tests/bench/curves.py [10000 100000 1000000]` makes logbooks of that many pictures, every
one tagged and compared, by 100 cameras over ten seasons, and prints a table of processor time [s]:
the database made from nothing, opened, one word, one tag, the Sort page's list, and a new card of
300 pictures, comparing included, beside the same card into an empty logbook. With `--draw` it draws
docs/pictures/curves.png and writes the table between the markers of docs/speed.md.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

import made_cards as made
import psutil
from page_logbook import Shot, picture
from page_server import running
from test_bench_opening import CARDS, GIVEN, made_of, said

from camsign.derive.opening import open_logbook, remove_database
from camsign.flows.intake import ingest
from camsign.logbook.edits import SetFields
from camsign.logbook.folder import Folder
from camsign.pixels.news_cache import lay_batches, store_of

SIZES = (10_000, 100_000, 1_000_000)
NEW = 300
RESTLESS_S = 0.1  # a server that used less in a second is at rest: it looks what is new
DOCS = Path(__file__).parents[2] / "docs"
BEGIN, END = "<!-- curves -->", "<!-- end of curves -->"
WHAT = {
    "cold": "the database made from nothing",
    "warm": "opened again",
    "word": "opened after one more word",
    "tag": "a tag on the page, carried through every table",
    "list": "the Sort page's first list",
    "card": f"a new card of {NEW} pictures",
}
YEARS_S = 10 * 365 * 86_400
# Bursts of three, spread evenly over ten years: every burst a visit.
SHOWN = (
    "strftime(TIMESTAMP '2016-08-01' + to_seconds((i % {each}) // 3 * {apart}"
    " + i % {each} % 3 * 2), '%Y-%m-%dT%H:%M:%S')"
)
Costs = dict[str, float]


def main() -> None:
    """Measure the sizes named on the command line, else all."""
    sizes = [int(word) for word in sys.argv[1:] if word.isdigit()] or list(SIZES)
    found: dict[int, Costs] = {}
    for size in (0, 0, *sizes):  # the first loads what later ones find loaded
        with tempfile.TemporaryDirectory() as home:
            os.environ |= {"CAMSIGN_CACHE": f"{home}/cache", "CAMSIGN_CONFIG": f"{home}/config"}
            found[size] = measured(Path(home), size)
        print(size, {name: round(cost, 3) for name, cost in found[size].items()}, flush=True)
    empty = found.pop(0)["card"]
    told = table(found, empty)
    print(told)
    if "--draw" in sys.argv:
        draw(found, empty)
        page = DOCS / "speed.md"
        text = page.read_text(encoding="utf-8")
        before, after = text.split(BEGIN)[0], text.split(END)[1]
        page.write_text(f"{before}{BEGIN}\n{told}\n{END}{after}", encoding="utf-8")


def cost(work: Callable[[], object]) -> float:
    """Processor time of this process [s]."""
    began = time.process_time()
    work()
    return time.process_time() - began


def measured(home: Path, size: int) -> Costs:
    """Make a logbook of so many pictures and do each act once, the quick ones several times."""
    book = made.logbook(home / "book", *(f"CAM{i:03d}" for i in range(CARDS)), "NEW")
    costs: Costs = {}
    if size:
        each = size // CARDS
        GIVEN["shown"] = SHOWN.format(each=each, apart=YEARS_S * 3 // each)
        GIVEN["light"] = "'colour'"
        made_of(book, each)
        hung(book)
        said(book, size)
        compared(book)
        remove_database(book)
        costs["cold"] = cost(lambda: opened(book))
        costs["warm"] = min(cost(lambda: opened(book)) for _ in range(3))
        costs["tag"], costs["list"] = at_the_page(book, home)
        with open_logbook(book) as session:
            session.say("noted", [SetFields("camera", "CAM000", {"note": "moved"})])
        costs["word"] = cost(lambda: opened(book))
    else:
        opened(book)
    card = new_card(home / "NEW")
    costs["card"] = cost(lambda: ingest(book, [card], camera="NEW"))
    return costs


def opened(book: Folder) -> None:
    """Open and close it, with all that is due."""
    with open_logbook(book):
        pass


def hung(book: Folder) -> None:
    """Hang every camera for ten seasons, in twenty-five groups of four about bedding areas."""
    edits = []
    for i in range(CARDS):
        at = {"lat": 44.1 + 0.01 * (i // 20), "lon": -71.2 + 0.01 * (i // 4 % 5)}
        place = {"lat": at["lat"] + 0.0004 * (i % 4), "lon": at["lon"]}
        fields = {"camera": f"CAM{i:03d}", **place, "hung": "2016-07-01"}
        edits.append(SetFields("deployment", f"d-{i:03d}", fields))
        if i % 4 == 0:
            shape = {"circle": [at["lat"], at["lon"], 60.0]}
            area = {"name": f"Area {i // 4}", "kind": "bedding", "shape": shape}
            edits.append(SetFields("area", f"a-{i // 4:03d}", area))
    with open_logbook(book) as session:
        session.say("hung", edits)


def compared(book: Folder) -> None:
    """Put into the cache what comparing would give, with much or little news, and note it shown."""
    store = store_of(book)
    with open_logbook(book) as session:
        con = session.con
        lay_batches(con)
        store.mkdir(parents=True)
        con.execute(
            "CREATE TEMP TABLE news AS SELECT made, frame, 0.1 + hash(frame) % 1000 / 250 AS news"
            " FROM batches ORDER BY made"
        )
        for (made,) in con.execute("SELECT DISTINCT made FROM news").fetchall():
            kept = f"SELECT frame, news FROM news WHERE made = '{made}'"
            con.execute(f"COPY ({kept}) TO '{store / made}.parquet' (FORMAT parquet)")
    opened(book)


def at_the_page(book: Folder, home: Path) -> tuple[float, float]:
    """Processor time of the server for a tag, until it is at rest again, and for a list of Sort."""
    with open_logbook(book) as session:
        rows = session.con.execute("SELECT frame FROM frames USING SAMPLE 5").fetchall()
    with running(book.root, home, compares=False) as server:
        process = psutil.Process(server.process.pid)

        def used() -> float:
            return float(sum(process.cpu_times()[:2]))

        def spent(ask: Callable[[], object]) -> float:
            before = used()
            ask()
            last = -1.0
            while used() - last > RESTLESS_S:
                last = used()
                time.sleep(1)
            return used() - before

        spent(lambda: server.get("/sort/list"))
        tags = [
            spent(lambda f=f: server.post("/sort/tag", {"frames": [f], "said": "doe"}))
            for (f,) in rows
        ]
        lists = [spent(lambda: server.get("/sort/list")) for _ in range(3)]
        return sorted(tags)[len(tags) // 2], sorted(lists)[1]


def new_card(home: Path) -> Path:
    """A card of a camera that the logbook has no picture of: daylight and night, some with deer."""
    files = {}
    for i in range(NEW):
        light = "colour" if i % 2 else "infrared"
        shot = Shot(made.START, light, 0.5 if i % 9 == 0 else None)
        block = made.exif(made.START.replace(minute=i % 60, hour=6 + i // 60))
        data = made.with_exif(picture(shot, "NEW", i, 640, 480), block)
        files[f"DCIM/100MEDIA/IMG_{i + 1:04d}.JPG"] = data
    return made.fill(home, files)


def table(found: dict[int, Costs], empty: float) -> str:
    """The table of docs/speed.md: processor time, and the new card against an empty logbook."""
    head = ["", *(f"{size:,} pictures" for size in found)]
    rows = [head, ["---"] * len(head)]
    for name, words in WHAT.items():
        cells = [written(one[name]) for one in found.values()]
        if name == "card":
            cells = [f"{c} ({one[name] / empty:.2f} times)" for c, one in
                     zip(cells, found.values(), strict=True)]  # fmt: skip
            words += f" (into an empty logbook: {written(empty)})"
        rows.append([words, *cells])
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)


def written(seconds: float) -> str:
    """Such as `14 s`, `0.31 s`, `24 ms`."""
    if seconds >= 10:
        return f"{seconds:.0f} s"
    return f"{seconds:.2f} s" if seconds >= 0.1 else f"{1000 * seconds:.0f} ms"


def draw(found: dict[int, Costs], empty: float) -> None:
    """Draw each act's cost over the size of the logbook, both by powers of ten."""
    from matplotlib import pyplot as plt

    figure, axes = plt.subplots(figsize=(8, 5), layout="constrained")
    for name, words in WHAT.items():
        costs = [one[name] for one in found.values()]
        axes.plot(list(found), costs, marker="o")
        axes.annotate(words, (max(found), costs[-1]), (6, 0), textcoords="offset points",
                      va="center", fontsize=9)  # fmt: skip
    axes.axhline(empty, color="0.6", lw=0.8, ls=":")
    axes.set(xscale="log", yscale="log", title="What each act costs as the logbook grows")
    axes.set(xlabel="pictures in the logbook", ylabel="processor time, s")
    axes.set_xlim(None, max(found) * 12)
    axes.spines[["top", "right"]].set_visible(False)
    axes.grid(alpha=0.3)
    figure.savefig(DOCS / "pictures" / "curves.png", dpi=110)


if __name__ == "__main__":
    main()
