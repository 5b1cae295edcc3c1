"""The rules of the house, held by reading the code: what may import what, what every figure must name, what no
file may hold. Sentences of findings and the look of templates have their own tests in `tests/look`."""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from agronomy.check_values import package_rows
from agronomy.sources import TABLES, load_table, sources

ROOT = Path(__file__).parents[1]
PACKAGES = ("agronomy", "plots", "soiltests", "amendments", "config")
MOST_LINES = 400
TEXT_FILES = {".py", ".html", ".txt", ".toml", ".csv", ".md", ".js", ".css", ".svg", ".cfg", ".ini", ".yml", ".yaml"}
HERE = Path(__file__)

LONGER_WITH_REASON: dict[str, str] = {
    "static/css/sweetground.css": "the one stylesheet: tokens, marks and every part of a page, read from top to bottom",
}
SKIPS_WITH_REASON: dict[str, str] = {
    "tests/browser.py": "a machine without Chromium; --require-browser turns it into a failure",
}
UNTRACKED_WRITES_WITH_REASON: dict[str, str] = {
    "plots/services/plots.py": "takes the version by one conditional update; the save that follows writes history",
    "soiltests/services/imports.py": "takes the draft by one conditional update; the save that follows writes history",
    "amendments/services/orders.py": "takes the state by one conditional update; the save that follows writes history",
    "config/archive/building.py": "restores a property with its history as it was, so it must add none of its own",
}
HEAVY = {"numpy": ("blend", "season_plan", "ph_forecast"), "highspy": ("blend", "season_plan", "ph_forecast")}
GEOMETRY = {"pyproj": ("area",), "shapely": ("area",)}


def code_files(*packages: str) -> list[Path]:
    return [path for package in packages for path in sorted((ROOT / package).rglob("*.py"))]


def name(path: Path) -> str:
    return str(path.relative_to(ROOT))


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imported(path: Path) -> set[str]:
    """Whole names of the modules that a file imports."""
    found: set[str] = set()
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module)
    return found


def own_files() -> Iterator[Path]:
    """Files that this project wrote, as far as they are text."""
    folders = (*PACKAGES, "tests", "templates", "static", "docs")
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*")):
            is_foreign = "vendor" in path.parts or path.name.endswith(".min.js")
            if path.is_file() and path.suffix in TEXT_FILES and not is_foreign:
                yield path
    yield from (path for path in sorted(ROOT.iterdir()) if path.is_file() and path.suffix in TEXT_FILES)


# Layers


@pytest.mark.parametrize("path", code_files("agronomy"), ids=name)
def test_the_ground_stands_alone(path: Path) -> None:
    """`agronomy` knows no framework and no app, and each heavy library only where it is named."""
    subject = path.relative_to(ROOT / "agronomy").parts[0].removesuffix(".py")
    for module in imported(path):
        top = module.split(".")[0]
        assert top not in ("django", "plots", "soiltests", "amendments", "config"), module
        allowed = (HEAVY | GEOMETRY).get(top)
        assert allowed is None or subject in allowed, f"{module} in {subject}"


@pytest.mark.parametrize("path", code_files("agronomy"), ids=name)
def test_the_ground_has_no_clock(path: Path) -> None:
    clocks = {"today", "now", "utcnow", "time", "monotonic", "perf_counter", "localtime"}
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in clocks:
            root = node.func.value
            spoken = root.attr if isinstance(root, ast.Attribute) else getattr(root, "id", "")
            asks_a_clock = spoken in ("date", "datetime", "dt", "time", "timezone")
            # A search may look at how long it has run; it then says so by taking the limit as a parameter.
            assert not asks_a_clock or {"season_plan", "blend"} & set(path.parts), f"line {node.lineno} asks the clock"


@pytest.mark.parametrize("path", code_files(*PACKAGES), ids=name)
def test_apps_import_only_downward(path: Path) -> None:
    order = ("agronomy", "plots", "soiltests", "amendments", "config")
    parts = path.relative_to(ROOT).parts
    if "views" in parts or "migrations" in parts or parts[-1] == "urls.py":
        return
    above = order[order.index(parts[0]) + 1 :]
    assert [module for module in imported(path) if module.split(".")[0] in above] == []


# Sources and sentences


def spoken(value: ast.expr) -> Iterator[str]:
    """The texts that an expression can come to, as far as they stand in it: one, or either branch of a choice."""
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        yield value.value
    elif isinstance(value, ast.IfExp):
        yield from (*spoken(value.body), *spoken(value.orelse))
    elif isinstance(value, ast.BoolOp):
        for part in value.values:
            yield from spoken(part)


def source_keys(path: Path) -> Iterator[tuple[int, str]]:
    """Texts given as `source` to what carries one: by name, or in the place it stands."""
    places = {"Hazard": 2, "Step": 4, "Reason": 3, "Finding": 3}
    for node in ast.walk(parsed(path)):
        if not isinstance(node, ast.Call):
            continue
        called = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if called not in (*places, "check", "note", "stop"):
            continue
        given = [keyword.value for keyword in node.keywords if keyword.arg == "source"]
        place = places.get(called)
        if place is not None:
            given += node.args[place : place + 1]
        for value in given:
            yield from ((node.lineno, text) for text in spoken(value) if text)


@pytest.mark.parametrize("path", code_files(*PACKAGES), ids=name)
def test_every_source_that_code_names_is_there(path: Path) -> None:
    missing = [f"line {line}: {key}" for line, key in source_keys(path) if key not in sources()]
    assert missing == []


def test_source_names_are_found_at_all() -> None:
    assert sum(1 for path in code_files("agronomy") for _ in source_keys(path)) > 20


def named_sources(value: object, *, at: str = "") -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from named_sources(inner, at=key)
    elif isinstance(value, list):
        for inner in value:
            yield from named_sources(inner, at=at)
    elif isinstance(value, str) and at == "source":
        yield value


@pytest.mark.parametrize("path", sorted(TABLES.glob("*.toml")), ids=name)
def test_every_source_that_a_table_names_is_there(path: Path) -> None:
    assert [key for key in named_sources(dict(load_table(path.stem))) if key not in sources()] == []


def test_every_check_row_names_a_source_that_is_there() -> None:
    assert sorted({row.source for row in package_rows() if row.source not in sources()}) == []


@cache
def every_text_in_code() -> frozenset[str]:
    return frozenset(
        node.value
        for path in code_files(*PACKAGES)
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    )


SENTENCES = [path for folder in ("findings", "hazards") for path in sorted((ROOT / "templates" / folder).glob("*.txt"))]


@pytest.mark.parametrize("path", SENTENCES, ids=name)
def test_every_sentence_is_said_somewhere(path: Path) -> None:
    assert path.stem in every_text_in_code() | table_texts(), "no code raises this finding or hazard"


@cache
def table_texts() -> frozenset[str]:
    """Codes may also stand in tables, as hazards of materials do."""

    def texts(value: object) -> Iterator[str]:
        if isinstance(value, str):
            yield value
        elif isinstance(value, dict):
            for inner in value.values():
                yield from texts(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from texts(inner)

    return frozenset(text for path in TABLES.glob("*.toml") for text in texts(dict(load_table(path.stem))))


def reason_codes() -> list[str]:
    found: set[str] = set()
    for path in code_files("agronomy"):
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Reason" and node.args:
                found |= set(spoken(node.args[0]))
    return sorted(found)


def test_every_reason_has_its_sentence() -> None:
    assert len(reason_codes()) >= 9
    assert [code for code in reason_codes() if not (ROOT / "templates" / "findings" / f"{code}.txt").is_file()] == []


# Files


def test_no_file_is_longer_than_can_be_read_at_once() -> None:
    suffixes = {".py", ".html", ".js", ".css"}
    lines = {
        name(path): len(path.read_text(encoding="utf-8").splitlines())
        for path in own_files()
        if path.suffix in suffixes and "migrations" not in path.parts
    }
    assert {file: count for file, count in lines.items() if count > MOST_LINES and file not in LONGER_WITH_REASON} == {}
    assert [file for file in LONGER_WITH_REASON if lines.get(file, 0) <= MOST_LINES] == [], "no longer needs its reason"


def test_migrations_are_named_after_what_they_do() -> None:
    files = [path for package in PACKAGES for path in (ROOT / package / "migrations").glob("0*.py")]
    assert files
    assert [name(path) for path in files if re.search(r"_auto_|_initial$", path.stem)] == []


def test_templates_and_pictures_carry_no_style_or_script_of_their_own() -> None:
    wrong = {
        "style": re.compile(r"<[^>%]*\sstyle\s*="), "handler": re.compile(r"<[^>%]*\son[a-z]+\s*="),
        "script": re.compile(r"<script(?![^>]*\bsrc=)[^>]*>"), "style sheet": re.compile(r"<style"),
        "script address": re.compile(r"javascript:", re.IGNORECASE),
    }  # fmt: skip
    found = [
        f"{name(path)}: {what}"
        for path in own_files()
        if path.suffix in (".html", ".svg")
        for what, pattern in wrong.items()
        if pattern.search(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_no_test_is_left_out() -> None:
    """No skip and no expected failure: a test that cannot pass is mended or taken away."""
    ways = {
        "skip",
        "skipif",
        "xfail",
        "importorskip",
        "SkipTest",
        "skipTest",
        "expectedFailure",
        "skipUnless",
        "skipIf",
    }
    found: dict[str, list[int]] = {}
    for path in code_files("tests"):
        for node in ast.walk(parsed(path)):
            if not isinstance(node, ast.Attribute) or node.attr not in ways:
                continue
            root = ast.unparse(node.value)
            if root.split(".")[0] in ("pytest", "unittest", "self"):
                found.setdefault(name(path), []).append(node.lineno)
    assert {file: lines for file, lines in found.items() if file not in SKIPS_WITH_REASON} == {}


def test_no_test_waits_on_a_clock_to_pass() -> None:
    """Times are printed by the benchmark; a test that asserts one fails on a busy machine."""
    clocks = {"perf_counter", "monotonic", "process_time", "time"}
    found = []
    for path in (path for path in code_files("tests") if path.name.startswith("test_")):
        for node in ast.walk(parsed(path)):
            if not isinstance(node, ast.Assert):
                continue
            for part in ast.walk(node.test):
                is_call = isinstance(part, ast.Call) and isinstance(part.func, ast.Attribute)
                if is_call and part.func.attr in clocks and getattr(part.func.value, "id", "") == "time":
                    found.append(f"{name(path)}:{node.lineno}")
    assert found == []


def tracked_models() -> set[str]:
    """Models with a history, by their class's name."""
    found: set[str] = set()
    for path in code_files("plots", "soiltests", "amendments"):
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.ClassDef) and "HistoricalRecords" in ast.unparse(node):
                found.add(node.name)
    return found


def test_no_tracked_model_is_written_past_its_history() -> None:
    tracked = tracked_models()
    assert {"Plot", "Planting", "SoilTest", "Material", "Offer", "WorkOrder"} <= tracked
    found = []
    for path in code_files(*PACKAGES):
        if "migrations" in path.parts or name(path) in UNTRACKED_WRITES_WITH_REASON:
            continue
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
                if node.func.attr not in ("update", "bulk_create", "bulk_update"):
                    continue
                model = re.match(r"(\w+)\.objects\b", ast.unparse(node.func.value))
                if model and model[1] in tracked:
                    found.append(f"{name(path)}:{node.lineno} {model[1]}.{node.func.attr}")
    assert found == []


def test_the_project_speaks_only_of_itself() -> None:
    """No path of one machine, no document that is not here, and nothing left to do."""
    forbidden = {
        "a path of one machine": re.compile(r"(?<![\w.\-/:])/(?:work|root|home|Users)/\w"),
        "a folder beside the project": re.compile(r"(?<![\w./])\.\./[a-z]+/(?:references|hooks)"),
        "a note of work left": re.compile(r"\b(?:TO" r"DO|FIX" r"ME|XX" r"X|HA" r"CK)\b"),
        "a chapter of another document": re.compile(r"\bDESIGN (?:\d|section)|\bissue #?\d"),
    }
    found = [
        f"{name(path)}: {what}"
        for path in own_files()
        if path != HERE
        for what, pattern in forbidden.items()
        if pattern.search(path.read_text(encoding="utf-8"))
    ]
    assert found == []


def test_documents_that_are_named_are_here() -> None:
    present = {path.name for path in own_files() if path.suffix == ".md"}
    found = {
        f"{name(path)}: {document}"
        for path in own_files()
        if path != HERE and path.suffix in (".py", ".html", ".md", ".toml")
        for document in re.findall(r"\b([\w-]+\.md)\b", path.read_text(encoding="utf-8"))
        if document not in present
    }
    assert found == set()


def test_imports_stand_at_the_head_or_say_why_not() -> None:
    """An import inside a function needs a reason on its line."""
    found = []
    for path in code_files(*PACKAGES):
        lines = path.read_text(encoding="utf-8").splitlines()
        for function in ast.walk(parsed(path)):
            if not isinstance(function, (ast.FunctionDef, ast.AsyncFunctionDef)):
                continue
            for node in ast.walk(function):
                is_bare = (
                    isinstance(node, (ast.Import, ast.ImportFrom)) and "(" not in lines[node.lineno - 1].split("#")[-1]
                )
                if is_bare:
                    found.append(f"{name(path)}:{node.lineno}")
    assert found == []


def test_check_files_are_plain_tables() -> None:
    for path in sorted((ROOT / "agronomy" / "checks").glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            widths = {len(row) for row in csv.reader(file)}
        assert widths == {8}, name(path)
