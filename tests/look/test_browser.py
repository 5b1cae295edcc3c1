"""The look in a real browser: marks told apart by shape, no overflow, no access fault, ink on paper in print."""

from __future__ import annotations

import io
from collections.abc import Callable
from itertools import combinations
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image, ImageChops
from playwright.sync_api import Browser, BrowserContext, Page

from plots.models import Person
from plots.templatetags.trade import STATUSES

pytestmark = pytest.mark.browser
MARKS = Path(__file__).parents[2] / "static" / "img" / "marks.svg"
STYLE = "/settings/style/"
WIDTHS = (320, 390, 768, 1280)


def _mark(page: Page, name: str) -> Image.Image:
    """A mark in black on white at 12 px."""
    page.set_content(
        f'<body>{MARKS.read_text()}<svg id="it" width="12" height="12"><use href="#{name}"></use></svg></body>'
    )
    picture = page.locator("#it").screenshot(animations="disabled")
    return Image.open(io.BytesIO(picture)).convert("L").crop((0, 0, 12, 12))


def test_the_seven_marks_differ_in_black_and_white_at_12_px(chromium: Browser) -> None:
    page = chromium.new_page(device_scale_factor=1)
    marks = {name: _mark(page, name) for name in STATUSES}
    page.close()
    for one, other in combinations(STATUSES, 2):
        difference = ImageChops.difference(marks[one], marks[other])
        changed = sum(1 for value in difference.tobytes() if value > 96)
        assert changed >= 24, f"{one} and {other} differ in {changed} of 144 px"
    for name, image in marks.items():
        inked = sum(1 for value in image.tobytes() if value < 128)
        assert 30 <= inked <= 120, f"{name} has {inked} dark px"


@pytest.fixture
def open_style(
    new_context: Callable[..., BrowserContext], signed_in: Callable[..., Page], manager: Person
) -> Callable[..., Page]:
    """The living page of the look, signed in."""

    def opened(**kind: object) -> Page:
        page = signed_in(manager, **kind)
        page.goto(STYLE)
        return page

    return opened


def test_no_width_makes_the_page_scroll_sideways(open_style: Callable[..., Page]) -> None:
    page = open_style()
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("phone", [False, True])
def test_no_access_fault(open_style: Callable[..., Page], scheme: str, phone: bool) -> None:
    page = open_style(phone=phone, color_scheme=scheme)
    found = Axe().run(page)
    faults = [(v["id"], [node["html"][:120] for node in v["nodes"]]) for v in found.response["violations"]]
    assert faults == []


def test_the_shipped_face_is_used_with_figures_of_one_width(open_style: Callable[..., Page]) -> None:
    page = open_style()
    assert page.evaluate("document.fonts.ready.then(() => document.fonts.check('16px \"Sweetground Text\"'))")
    widths = page.evaluate(
        """() => ["1111", "0000", "4444"].map((text) => {
             const span = document.createElement("span");
             span.textContent = text;
             document.querySelector("main p").append(span);
             return span.getBoundingClientRect().width;
           })"""
    )
    assert max(widths) - min(widths) < 0.01


def test_big_targets_for_a_thumb(open_style: Callable[..., Page]) -> None:
    page = open_style(phone=True)
    targets = page.locator(".field-page .act, .field-page .big > li").all()
    assert len(targets) == 5
    assert min(target.bounding_box()["height"] for target in targets) >= 56


def test_errors_take_the_focus_and_lead_to_their_fields(open_style: Callable[..., Page]) -> None:
    page = open_style()
    assert page.evaluate("document.activeElement.id") == "errors"
    page.locator("#errors a").first.click()
    assert page.evaluate("document.activeElement.id") == "id_wrong-ph"


def test_the_skip_link_is_first_and_leads_to_the_page(open_style: Callable[..., Page]) -> None:
    page = open_style(javascript=False)
    page.keyboard.press("Tab")
    skip = page.locator(".skip")
    assert skip.evaluate("(e) => e === document.activeElement")
    assert skip.bounding_box()["x"] >= 0
    page.keyboard.press("Enter")
    assert page.url.endswith("#content")


def test_print_is_ink_on_white_without_controls(open_style: Callable[..., Page]) -> None:
    page = open_style()
    page.emulate_media(media="print")
    seen = page.evaluate(
        """() => ({
             paper: getComputedStyle(document.documentElement).backgroundColor,
             ink: getComputedStyle(document.body).color,
             nav: getComputedStyle(document.querySelector(".acts")).display,
             hazards: getComputedStyle(document.querySelector(".hazards")).display,
           })"""
    )
    assert seen == {"paper": "rgb(255, 255, 255)", "ink": "rgb(0, 0, 0)", "nav": "none", "hazards": "block"}
    folded = page.locator(".more-findings li")
    assert folded.first.bounding_box()["height"] > 0  # what is folded on the screen is on the paper
