"""How camsign talks: as its readers do, who are Americans."""

from __future__ import annotations

import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
SPOKEN = (".py", ".sql", ".js", ".html", ".css", ".md")
BRITISH = re.compile(
    r"(colour|\bgrey|centre|metre|neighbour|behaviour|favour|honour|harbour|vapour|labour|licence"
    r"|travell|labell(?!edby)|modell|cancelled|ageing|learnt|burnt|spelt|towards|whilst|judgement|catalogue"
    r"|(recogn|organ|real|summar|normal|minim|maxim|util)is(e|ed|es|ing|ation)\b|analys(ed|ing)\b)",
    re.IGNORECASE,
)
SPACED = re.compile(r"""(\d|^) %(?! ?[\w(}])|\d % (of|in|to|set)\b""")
KEPT = re.compile(
    r"""(['"`])(colour|grey|ageing|centre|metres?|kilometre|millimetre|centimetre|towards|travell(ed|ing))\1"""
    r"|\bgrey, gray\b|\.colour \{|\[ageing\b|\bcolour DOUBLE|\bl\.colour\b"
    r"|analysing s(pecies|patial)|towards\?"
    r"|travel\(\?:l"
)
"""What logbooks hold already, what people may type, and the titles of papers."""


def spoken(path: Path) -> str:
    """Give what a file says; of Python its words and comments, not its names."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        return text
    kinds = (tokenize.COMMENT, tokenize.STRING, getattr(tokenize, "FSTRING_MIDDLE", None))
    tokens = tokenize.generate_tokens(io.StringIO(text).readline)
    return "\n".join(token.string for token in tokens if token.type in kinds)


def british(text: str) -> Iterator[str]:
    """Give each line that spells a word as Britons do."""
    for line in text.splitlines():
        if BRITISH.search(KEPT.sub("", line)):
            yield line.strip()


def test_british_spellings_are_found() -> None:
    said = "The colour of a path towards the centre\na gray one\nlight = 'colour'"
    assert list(british(said)) == ["The colour of a path towards the centre"]


def foreign(text: str) -> Iterator[str]:
    """Give each line that writes a space before its percent sign."""
    for line in text.splitlines():
        if SPACED.search(line):
            yield line.strip()


def test_a_space_before_a_percent_sign_is_found() -> None:
    said = "seen on 16 % of days\n %, of a share\nseen on 16%\n{% if x %}\ni * 2 % n"
    assert list(foreign(said)) == ["seen on 16 % of days", "%, of a share"]


def test_all_that_is_said_is_american() -> None:
    said = list(ROOT.glob("*.md"))
    for folder in ("camsign", "docs"):
        said += [p for p in (ROOT / folder).rglob("*") if p.suffix in SPOKEN]
    assert len(said) > 300
    found: dict[str, list[str]] = {}
    for path in said:
        text = spoken(path)
        if wrong := [*british(text), *foreign(text)]:
            found[str(path.relative_to(ROOT))] = wrong
    assert not found


UNCOUNTED = re.compile(
    r"(?<!all )\{[^{}]*\} (?:more |new |of its )?(?:pictures|files|originals|cards|bursts|areas"
    r"|lines|bucks|signs|sightings|visits)(?: [a-z]+)? (?:are|were|have|wait)\b"
)
ONE = re.compile(r"== 1|> 1|, '|, \"")
"""Its line, or the one before, says it of one too."""


def uncounted(text: str) -> Iterator[str]:
    """Give each line that puts any number before a plural verb."""
    lines = text.splitlines()
    for before, line in zip(["", *lines], lines, strict=False):
        if UNCOUNTED.search(line) and not ONE.search(before + line):
            yield line.strip()


def test_a_count_before_a_plural_verb_is_found() -> None:
    said = """f"{n} bursts are too few"
f"{n} of its pictures are missing"
numbered(n, "burst is", "bursts are")
"1 file is" if n == 1 else f"{n} files are"
f"{n} frames at once are too many"
"""
    assert list(uncounted(said)) == [
        'f"{n} bursts are too few"',
        'f"{n} of its pictures are missing"',
    ]


def test_counts_and_verbs_agree() -> None:
    found = [
        f"{path.relative_to(ROOT)}: {line}"
        for path in sorted((ROOT / "camsign").rglob("*.py"))
        for line in uncounted(path.read_text(encoding="utf-8"))
    ]
    assert found == []
