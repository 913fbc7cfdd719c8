"""A waypoint's text cut into words: what people run together is parted, slips of the pen mended."""

from __future__ import annotations

import re
from collections.abc import Iterator

_BREAK = re.compile(
    r"[\s,;:()\[\]{}!?|&+*~]+|\.(?=\s|$)|(?<=[A-Za-z0-9])=(?=\S)|/(?=\s|$)|(?<=\s)/"
)
_QUOTES = str.maketrans("′’‘´ʹ″”“ʺ−–º˚", "'''''\"\"\"\"--°°")
_CAMERA = re.compile(r"(?:[a-z]{0,5}cam|c|tc|camera)[-_ ]?#?\d+[a-z]?", re.I)
_KIND = r"(?:rub|scrape|bed|shed|track|trail|stand|cam)"
_DIR = r"(?:[NS]{1,2}[EW]|[NS]|[EW][NS][EW]|[EW])"
_LENGTH = r"\d+(?:\.\d+)?(?:in|inch|cm|ft|yd|\"|')"
# rubNE34in, scrapeSW, RUB12, rub2inNE; a word in lower case needs a number, so that `rube` is none.
_RUN = re.compile(
    rf"(?P<kind>{_KIND})(?P<rest>(?:{_DIR}|{_LENGTH}|\d+)+)", re.I
)  # fmt: skip
_PART = re.compile(rf"{_LENGTH}|\d+|{_DIR}", re.I)
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])|(?<=[A-Za-z])(?=\d)")
_JOINED = re.compile(r"[-_/.]+")
_TAIL = re.compile(rf"({_LENGTH})({_DIR}|dia|diam|diameter|thick|tall|high|wide|long)", re.I)
_WITH = re.compile(r"\bw/\s*", re.I)

# Slips of the thumb, and how people shorten these words; none of them is a word of its own.
# fmt: off
_SLIPS = {
    "rubb": "rub", "rubbs": "rub", "ruv": "rub", "rubed": "rubbed", "antler-rub": "rub",
    "scrap": "scrape", "scraps": "scrape", "scape": "scrape", "scrpe": "scrape", "scarpe": "scrape",
    "scraped": "scrape", "scrapee": "scrape", "scrp": "scrape", "scr": "scrape",
    "bedd": "bed", "bedz": "bed", "beding": "bedding", "beddin": "bedding", "beddng": "bedding",
    "camra": "cam", "camrea": "cam", "camara": "cam", "cameras": "cam", "cams": "cam",
    "tral": "trail", "tracs": "track", "trak": "track", "poo": "poop", "parkng": "parking",
    "stnd": "stand", "tstand": "treestand", "facin": "facing", "faceing": "facing",
    "goin": "going", "headin": "heading", "twd": "toward", "twds": "toward", "frm": "from",
    "trvl": "travel", "hdg": "heading", "diamater": "diameter",  "b/w": "between",
    "fc": "facing", "brng": "bearing", "xing": "crossing", "crossng": "crossing", "seep": "seep",
    "acrons": "acorns", "lickin": "licking", "liking": "licking",
}
_FIRST = frozenset((
    "rub", "rubs", "scrape", "scrapes", "bed", "beds", "shed", "track", "tracks", "trail", "stand",
    "old", "fresh", "buck", "doe", "deer", "big", "cam", "camera", "bedding", "facing", "going",
))
# fmt: on


def words_of_text(text: str) -> list[str]:
    """Give the words of a text as people meant them; those of unknown meaning as they stand."""
    plain = _WITH.sub("with ", text.translate(_QUOTES))
    return [
        _SLIPS.get(part.lower(), part)
        for word in _BREAK.split(plain)
        if word
        for part in _parts(word)
        if part
    ]


def _parts(word: str) -> Iterator[str]:
    """Part what was run together: `rubNE34in`, `rub_NE_34in`, `RubAlder2in`, `N-facing`."""
    if _CAMERA.fullmatch(word):
        yield word
        return
    run = _RUN.fullmatch(word)
    if run and (run["rest"][0].isupper() or any(c.isdigit() for c in run["rest"])):
        yield run["kind"]
        yield from _PART.findall(run["rest"])
        return
    pieces = _JOINED.split(word)
    joined = len(pieces) > 1 and _is_first(pieces[0])
    if joined or (len(pieces) == 2 and pieces[1].lower() in ("facing", "side", "bound")):
        for piece in pieces:
            yield from _parts(piece) if piece else ()
        return
    if "_" in word:
        for piece in word.split("_"):
            yield from _parts(piece) if piece else ()
        return
    camel = _CAMEL.split(word)
    if len(camel) > 1 and _is_first(camel[0]) and not camel[0].isupper():
        yield from camel
        return
    tail = _TAIL.fullmatch(word)
    yield from tail.groups() if tail else (word,)


def _is_first(piece: str) -> bool:
    lower = piece.lower()
    return _SLIPS.get(lower, lower) in _FIRST
