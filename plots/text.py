"""Codes as people type them, made comparable and sortable."""

from __future__ import annotations

import re
import unicodedata

_DIGITS = re.compile(r"\d+")


def code_key(code: str) -> str:
    """The form in which two codes are the same: NFC, case-folded, blanks squeezed."""
    folded = unicodedata.normalize("NFC", code).casefold()
    return unicodedata.normalize("NFC", " ".join(folded.split()))


def natural_key(code: str) -> str:
    """A sort key that puts plot 9 before plot 10: every run of digits padded to ten places."""
    return _DIGITS.sub(lambda match: match.group().zfill(10), code_key(code))[:200]
