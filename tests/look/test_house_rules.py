"""What every template and the stylesheet keep to, so that the content policy holds and pages stay light."""

from __future__ import annotations

import gzip
import json
import re
from pathlib import Path

import pytest
from django.template.loader import get_template

from tests.look.stylesheet import STYLESHEET

ROOT = Path(__file__).parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
FONT = ROOT / "static" / "fonts" / "bitter.woff2"


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT / "templates")))
def test_templates_carry_no_inline_style_or_script(path: Path) -> None:
    text = path.read_text()
    assert not re.search(r"<[^>]*\sstyle\s*=", text), "an inline style"
    assert not re.search(r"<[^>]*\son[a-z]+\s*=", text), "an inline event handler"
    assert "<style" not in text
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text)), "an inline script"
    assert "hx-on" not in text, "htmx evaluates nothing here"
    assert not re.search(r"https?://(?!www\.w3\.org)", re.sub(r"\{#.*?#\}", "", text)), "nothing comes from elsewhere"


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT / "templates")))
def test_templates_compile(path: Path) -> None:
    get_template(str(path.relative_to(ROOT / "templates")))


def test_the_stylesheet_is_small_and_whole() -> None:
    raw = STYLESHEET.read_bytes()
    assert len(raw) <= 30_000
    assert raw.count(b"{") == raw.count(b"}")
    assert b"!important" not in raw.replace(b"[hidden] { display: none !important; }", b"").split(b"@media print")[0]
    assert b"http" not in raw


def test_the_first_load_leaves_room_for_a_page() -> None:
    """Stylesheet, face, marks and scripts of a first visit, compressed, leave half of 120 kB to the page itself."""
    scripts = [ROOT / "static" / "js" / "page.js"]
    parts = [STYLESHEET, ROOT / "static" / "img" / "marks.svg", ROOT / "static" / "img" / "icon.svg", *scripts]
    weight = sum(len(gzip.compress(path.read_bytes(), 9)) for path in parts) + FONT.stat().st_size
    assert weight <= 60_000


def test_htmx_is_told_what_it_may_not() -> None:
    text = (ROOT / "templates" / "base.html").read_text()
    found = re.search(r"name=\"htmx-config\" content='(?P<json>[^']*)'", text)
    assert found is not None
    config = json.loads(found["json"])
    for name in (
        "includeIndicatorStyles",
        "allowEval",
        "allowScriptTags",
        "historyRestoreAsHxRequest",
        "allowNestedOobSwaps",
    ):
        assert config[name] is False, name
    assert config["historyCacheSize"] == 0
    rules = [rule["code"] for rule in config["responseHandling"]]
    assert config["responseHandling"][rules.index("422")]["swap"] is True
    assert rules.index("422") < rules.index("[45]..")


def test_every_used_mark_is_drawn() -> None:
    drawn = set(re.findall(r'symbol id="(\w+)"', (ROOT / "static" / "img" / "marks.svg").read_text()))
    statuses = {"ordered", "no_test", "retest_due", "short_of_lime", "settling", "over_target", "in_range"}
    assert drawn == statuses | {"stop", "check", "note"}
