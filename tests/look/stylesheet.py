"""Reads what the tests of the look need from the stylesheet: its themes and the contrast between two colours."""

from __future__ import annotations

import re
from pathlib import Path

STYLESHEET = Path(__file__).parents[2] / "static" / "css" / "sweetground.css"
_ROOT = re.compile(r":root\s*\{(?P<body>[^}]*)\}")
_TOKEN = re.compile(r"--(?P<name>[\w-]+):\s*(?P<value>#[0-9a-fA-F]{3,6})\s*;")


def themes() -> dict[str, dict[str, str]]:
    """Colour tokens by theme: light, dark (light with the dark ones over it) and print."""
    text = STYLESHEET.read_text()
    light, dark, paper = (dict(_TOKEN.findall(found["body"])) for found in _ROOT.finditer(text))
    return {"light": light, "dark": {**light, **dark}, "print": {**light, **paper}}


def _channel(value: int) -> float:
    share = value / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def luminance(colour: str) -> float:
    """Relative luminance of #rgb or #rrggbb, 0 to 1 (WCAG 2.2)."""
    digits = colour.lstrip("#")
    full = "".join(d * 2 for d in digits) if len(digits) == 3 else digits
    red, green, blue = (_channel(int(full[n : n + 2], 16)) for n in (0, 2, 4))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21 (WCAG 2.2)."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)
