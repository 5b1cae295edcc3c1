"""Every pair of colours that stands on each other can be told apart, in each theme (WCAG 2.2, level AA)."""

from __future__ import annotations

import pytest

from tests.look.stylesheet import contrast, themes

INKS = ("ink", "ink-soft", "leaf", "leaf-deep", "ochre", "clay")
TEXT = [
    *((ink, paper) for ink in INKS for paper in ("paper", "paper-deep")),
    ("on-leaf", "leaf"),
    ("on-leaf", "leaf-deep"),
    ("paper", "clay"),  # the act that cannot be taken back
    ("ink", "clay-wash"),
    ("ink", "ochre-wash"),
    ("ink", "band"),
    ("ink-soft", "rule"),  # an act that is not to be had now
]  # fmt: skip
SHAPES = [("rule-strong", "paper"), ("rule-strong", "paper-deep"), ("clay", "clay-wash"), ("leaf", "band")]


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
@pytest.mark.parametrize(("front", "back"), TEXT)
def test_text_is_readable(theme: str, front: str, back: str) -> None:
    colours = themes()[theme]
    assert contrast(colours[front], colours[back]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark", "print"])
@pytest.mark.parametrize(("front", "back"), SHAPES)
def test_shapes_and_field_lines_stand_out(theme: str, front: str, back: str) -> None:
    colours = themes()[theme]
    assert contrast(colours[front], colours[back]) >= 3


def test_the_contrast_itself() -> None:
    assert contrast("#000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#fff") == pytest.approx(4.48, abs=0.005)  # the known near miss of grey on white
    assert contrast("#2c6428", "#2c6428") == 1


def test_dark_is_dark_and_light_is_light() -> None:
    for theme, is_dark in (("light", False), ("dark", True), ("print", False)):
        colours = themes()[theme]
        assert (contrast(colours["paper"], "#000") < contrast(colours["ink"], "#000")) is is_dark
