"""Words without the places in them, in every form in which a place is commonly written down.

Forms: decimal degrees, degrees with minutes (and seconds), UTM, the military grid (NGA.STND.0037),
and Open Location Code. A bearing such as 217° stays, a year and a count too.
"""

from __future__ import annotations

import re

_TURN = r"\d{1,3}\s*[°º]\s*\d{1,2}(?:[.,]\d+)?"
_SIDE = r"(?:\s*[NSEWnsew]\b)?"
_PLACES = re.compile(
    "|".join(
        (
            # 44°36'42.1"N, 44° 36.715' N
            rf"{_TURN}\s*['′’´](?:\s*\d{{1,2}}(?:[.,]\d+)?\s*(?:[\"″”]|''|’’)?)?{_SIDE}",
            # N44 36.715, W071° 13.875, N 44 36 42
            r"\b[NSEWnsew]\s*\d{1,3}(?:\s*[°º]\s*|[\s:-]+)\d{1,2}(?:[.,]\d+|[\s:-]+\d{1,2})(?:[.,]\d+)?",
            # 44 36 42 N, 44-36-42.1N, 44 36.715 N, 44.61 N
            r"\b\d{1,3}(?:[\s:-]+\d{1,2}){0,2}[.,]\d+\s*°?\s*[NSEWnsew]\b",
            r"\b\d{1,3}[\s:-]\d{1,2}[\s:-]\d{1,2}\s*[NSEWnsew]\b",
            # 19T 323456 4943210, 323456E 4943210N, 323456.0 mE / 4943210.5 mN
            r"(?:\b\d{1,2}\s?[C-HJ-NP-Xc-hj-np-x]\s*)?\b\d{6}(?:\.\d+)?\s*(?:m?\s*[Ee])?[\s,;/]*(?:[Nn](?:orthing)?\s*)?\d{6,7}(?:\.\d+)?(?:\s*m?\s*[NnSs]\b)?",
            # 19T CJ 23456 43210, 19TCJ2345643210
            r"\b\d{1,2}[C-HJ-NP-X]\s?[A-HJ-NP-Z]{2}\s?\d{2,5}\s?\d{2,5}\b",
            # 87PCJQ6Q+5V
            r"\b[23456789CFGHJMPQRVWX]{4,8}\+[23456789CFGHJMPQRVWX]{2,3}\b",
            # 44.6123, -71,23125; 44.612 with three digits only where it is no share of one
            r"[-+−]?\b\d{1,3}[.,]\d{4,}",
            r"[-+−]?\b[1-9]\d{0,2}\.\d{3}(?!\d)",
        )
    )
)  # fmt: skip


def without_places(text: str) -> str:
    """Give words with all taken out that may be part of a place."""
    return _PLACES.sub("…", text)
