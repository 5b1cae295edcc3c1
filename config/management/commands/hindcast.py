"""`manage.py hindcast`: hold the pH forecast to a trial's records."""

from __future__ import annotations

import dataclasses
import json
import tomllib
from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from agronomy.ph_forecast.hindcast import Pair, Score, pairs, score, scores
from agronomy.ph_forecast.trial_files import histories, read_table, site_facts


class Command(BaseCommand):
    """Reads a trial's files, forecasts strictly in time order and prints the errors; needs no database."""

    help = (
        "Forecast each plot of a trial from each of its tests, with nothing later than that test but the lime given "
        "since, and print the errors against every later test within nine years, beside those of persistence (the "
        "last test stays). Files are CSV with # lines above a header that names the columns. Needs no database."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--soil", type=Path, required=True, metavar="F", help="tests: plot, date, depth, pH")
        parser.add_argument("--lime", type=Path, required=True, metavar="F", help="lime by date and plot or level")
        parser.add_argument("--nitrogen", type=Path, required=True, metavar="F", help="nitrogen by year, with form")
        parser.add_argument(
            "--site", type=Path, metavar="F",
            help="TOML with texture, clay_percent, organic_carbon_percent, region (and depth_cm) where known",
        )
        parser.add_argument("--json", action="store_true", help="print the scores as JSON and nothing else")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            found = pairs(_plots(options))
        except (ValueError, OSError) as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            rows = [dataclasses.asdict(row) for row in scores(found)]
            self.stdout.write(json.dumps(rows, indent=1, allow_nan=False))
        else:
            self.stdout.write("\n".join(_lines(found)))


def _plots(options: dict[str, Any]) -> Any:
    soil, lime, nitrogen = (
        read_table(_text(options[name]), name=str(options[name])) for name in ("soil", "lime", "nitrogen")
    )
    told = tomllib.loads(_text(options["site"])) if options["site"] else {}
    return histories(soil, lime, nitrogen, site=site_facts(told, soil))


def _text(path: Path) -> str:
    return path.read_bytes().decode("utf-8-sig", errors="replace")


def _lines(found: Sequence[Pair]) -> list[str]:
    """The scores as a table, pH to two decimals, with a line over all."""
    if not found:
        return ["No plot has two tests within nine years: nothing to compare."]
    head = "horizon       lime between      n   RMSE pH  mean error pH  in 80 % band  persistence RMSE pH"
    rows = [_line(row, "yes" if row.limed else "no") for row in scores(found)]
    return [head, *rows, _line(score(found, horizon="all", limed=False), "either")]


def _line(row: Score, limed: str) -> str:
    return (
        f"{row.horizon:<14}{limed:<12}{row.n:>7}{row.rmse:>10.2f}{row.mean_error:>+15.2f}"
        f"{100.0 * row.coverage80:>12.0f} %"
        f"{row.persistence_rmse:>21.2f}"
    )
