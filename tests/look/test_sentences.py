"""Every finding and hazard that the program can raise has its sentence, and the sentence can be said."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.template.loader import get_template

ROOT = Path(__file__).parents[2]
PACKAGES = ("agronomy", "plots", "soiltests", "amendments", "config")
MAKERS = {"stop": ("findings", 0), "check": ("findings", 0), "note": ("findings", 0)}
CLASSES = {"Finding": ("findings", 1), "Hazard": ("hazards", 1)}
TEMPLATES = sorted(p for folder in ("findings", "hazards") for p in (ROOT / "templates" / folder).glob("*.txt"))


def _from_findings(tree: ast.Module) -> dict[str, str]:
    """Names that a module has from `agronomy.findings`: local name to its own."""
    return {
        alias.asname or alias.name: alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module == "agronomy.findings"
        for alias in node.names
    }


def _texts(value: ast.expr) -> Iterator[str]:
    """The texts that an expression may be: itself, or either side of a choice."""
    if isinstance(value, ast.IfExp):
        yield from _texts(value.body)
        yield from _texts(value.orelse)
    elif isinstance(value, ast.Constant) and isinstance(value.value, str):
        yield value.value


def _codes(path: Path) -> Iterator[tuple[str, str]]:
    tree = ast.parse(path.read_text())
    names = _from_findings(tree)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        called = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        own = names.get(called) if isinstance(node.func, ast.Name) else None
        folder, place = {**MAKERS, **CLASSES}.get(own or "", ("", 0))
        if not folder:
            continue
        given = [kw.value for kw in node.keywords if kw.arg == "code"] or list(node.args[place : place + 1])
        for value in given:
            yield from ((folder, code) for code in _texts(value))


def _all_codes() -> list[tuple[str, str, str]]:
    found: dict[tuple[str, str], str] = {}
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            for code in _codes(path):
                found.setdefault(code, str(path.relative_to(ROOT)))
    return [(folder, code, where) for (folder, code), where in sorted(found.items())]


def test_codes_are_found_at_all() -> None:
    assert len(_all_codes()) > 10


@pytest.mark.parametrize(("folder", "code", "where"), _all_codes())
def test_every_code_has_its_sentence(folder: str, code: str, where: str) -> None:
    assert (ROOT / "templates" / folder / f"{code}.txt").is_file(), f"{where} raises it"


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_every_sentence_compiles_ends_as_one_and_has_no_markup(path: Path) -> None:
    get_template(f"{path.parent.name}/{path.name}")
    text = path.read_text().strip()
    assert text.rstrip().endswith((".", "?", "!", "%}")), text
    assert "<" not in text.replace("<=", "").replace("< ", ""), "sentences are words, not markup"
