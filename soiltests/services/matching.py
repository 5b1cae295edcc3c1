"""Sample names as a lab prints them, matched to plots: by code, by earlier matches, by nearest name as a suggestion."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from plots.models import Plot
from plots.text import code_key
from soiltests.models import Lab

NEAR_ENOUGH = 70  # of 100; below, a suggestion would only mislead (our setting)


@dataclass(frozen=True, slots=True)
class Match:
    """One sample name: the plot it surely is, or the plot it may be (never assumed)."""

    name: str
    plot_id: int | None = None
    suggested_id: int | None = None


def match_names(
    names: Iterable[str], *, plots: Iterable[Plot], lab: Lab, chosen: Mapping[str, int | str] | None = None
) -> dict[str, Match]:
    """Each name with its plot: as chosen now, by a plot's code or name, or as confirmed for this lab before."""
    known = list(plots)
    ids = {plot.pk for plot in known}
    by_key = {code_key(plot.name): plot.pk for plot in known if plot.name}
    by_key |= {code_key(f"{plot.code} {plot.name}"): plot.pk for plot in known}
    by_key |= {code_key(plot.code): plot.pk for plot in known}
    earlier = {name: plot_id for name, plot_id in lab.sample_names.items() if plot_id in ids}
    now = {name: int(plot_id) for name, plot_id in (chosen or {}).items() if plot_id and int(plot_id) in ids}
    return {name: _match(name, by_key, earlier, now) for name in dict.fromkeys(names) if name}


def _match(name: str, by_key: Mapping[str, int], earlier: Mapping[str, int], now: Mapping[str, int]) -> Match:
    sure = now.get(name) or by_key.get(code_key(name)) or earlier.get(name)
    if sure is not None:
        return Match(name, sure)
    near = process.extractOne(code_key(name), list(by_key), scorer=fuzz.WRatio, score_cutoff=NEAR_ENOUGH)
    return Match(name, None, by_key[near[0]] if near else None)
