"""Patterns that people write into logbook.toml, refused where one could hang on a long text."""

from __future__ import annotations

import re


def checked(text: str) -> re.Pattern[str]:
    """Compile a pattern.

    Raises:
        ValueError: it cannot be read, or it repeats a group that repeats or branches inside, as
            (a+)+ or (a|ab)* do: a text that does not fit could take years.
    """
    try:
        pattern = re.compile(text)
    except re.error as e:
        raise ValueError(str(e)) from e
    if _repeats_a_repeat(text):
        raise ValueError("it repeats a group that repeats or branches itself")
    return pattern


def _repeats_a_repeat(text: str) -> bool:
    plain = re.sub(r"\\.", "x", text, flags=re.DOTALL)  # an escape is one character
    plain = re.sub(r"\[\^?\]?[^\]]*\]", "x", plain)  # and so is a class
    risky: list[bool] = []
    for at, c in enumerate(plain):
        if c == "(":
            risky.append(False)
        elif c == ")" and risky:
            inside = risky.pop()
            repeated = plain[at + 1 : at + 2] in ("*", "+", "{")
            if inside and repeated:
                return True
            if risky and (inside or repeated):
                risky[-1] = True
        elif c in "*+{|" and risky:
            risky[-1] = True
    return False
