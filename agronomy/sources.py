"""The publications that every figure rests on, each with its citation and status.

A source is a key, and every table, finding and working line names one. Sources of single figures stand in
`tables/sources_*.toml`, those of whole tables in the table's own file under `[source]`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

Status = Literal["published", "second-hand", "derived", "common practice", "from memory"]
STATUSES: tuple[Status, ...] = ("published", "second-hand", "derived", "common practice", "from memory")
TABLES = Path(__file__).parent / "tables"


@dataclass(frozen=True, slots=True)
class Source:
    """One publication: `citation` as shown to users, `status` of the figures taken from it, `note` what is unsure."""

    key: str
    citation: str
    status: Status
    note: str = ""


@cache
def load_table(name: str) -> Mapping[str, Any]:
    """The parsed `tables/<name>.toml`; raises `ValueError` for a name that is not there."""
    path = TABLES / f"{name}.toml"
    if not path.is_file():
        raise ValueError(f"no table {name!r}; there are {', '.join(sorted(p.stem for p in TABLES.glob('*.toml')))}")
    with path.open("rb") as file:
        return tomllib.load(file)


def _source(key: str, raw: Mapping[str, Any]) -> Source:
    if raw["status"] not in STATUSES:
        raise ValueError(f"source {key}: status {raw['status']!r} is none of {', '.join(STATUSES)}")
    return Source(key, raw["citation"], raw["status"], raw.get("note", ""))


@cache
def sources() -> Mapping[str, Source]:
    """Every source by its key."""
    found: dict[str, Source] = {}
    for path in sorted(TABLES.glob("*.toml")):
        table = load_table(path.stem)
        entries = table["sources"].items() if path.stem.startswith("sources_") else [(path.stem, table["source"])]
        for key, raw in entries:
            if key in found:
                raise ValueError(f"source {key} is defined twice, the second time in {path.name}")
            found[key] = _source(key, raw)
    return found


def source(key: str) -> Source:
    """The source of a key; raises `ValueError` for an unknown one."""
    try:
        return sources()[key]
    except KeyError:
        raise ValueError(f"no source {key!r} in agronomy/tables") from None
