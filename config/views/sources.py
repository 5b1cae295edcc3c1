"""The page that shows every formula, every source and every check value with what the program computes."""

from __future__ import annotations

from functools import cache
from itertools import groupby, pairwise
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET

from agronomy.check_values import count_by_basis, package_rows, run
from agronomy.formulas import FORMULAS
from agronomy.lime_requirement import calibrations
from agronomy.liming_material import schemes
from agronomy.sources import STATUSES
from agronomy.sources import sources as all_sources


def _checks() -> dict[str, Any]:
    """The check rows by calculation, with the counts by basis."""
    rows = package_rows()
    outcomes = run(rows)
    both = sorted(zip(rows, outcomes, strict=True), key=lambda pair: pair[0].calculation)
    groups = [
        (name, [{"inputs": dict(row.inputs), "outcome": outcome} for row, outcome in pairs])
        for name, pairs in groupby(both, key=lambda pair: pair[0].calculation)
    ]
    return {
        "groups": [(name, rows, sum(not one["outcome"].passed for one in rows)) for name, rows in groups],
        "counts": count_by_basis(outcomes),
        "passed": sum(one.passed for one in outcomes),
        "failed": sum(not one.passed for one in outcomes),
    }


def _sources() -> dict[str, Any]:
    found = sorted(all_sources().values(), key=lambda one: one.citation.casefold())
    return {
        "sources": found,
        "by_status": [(status, sum(one.status == status for one in found)) for status in STATUSES],
        "formulas": [(name, list(some)) for name, some in groupby(FORMULAS, key=lambda one: one.subject)],
        "calibrations": calibrations().values(),
        "schemes": [(one, _factors(one.meshes, one.factors)) for one in schemes().values()],
    }


def _factors(meshes: tuple[float, ...], factors: tuple[float, ...]) -> list[tuple[str, float]]:
    """Each size class in words with the percent of it that counts."""
    if not factors:
        return []
    edges = [f"{mesh:g}" for mesh in meshes]
    between = [f"{coarse} to {fine}" for coarse, fine in pairwise(edges)]
    return list(zip([f"on {edges[0]}", *between, f"through {edges[-1]}"], factors, strict=True))


@cache
def body() -> SafeString:
    """The page's body, made once a process: nothing in it depends on a person, a day or the database."""
    return render_to_string("sources_body.html", {**_sources(), **_checks()})


@require_GET
def sources(request: HttpRequest) -> HttpResponse:
    """Sources and checks, for everybody who is signed in."""
    return render(request, "sources.html", {"body": body()})
