"""Sieve analyses: what passes a mesh, read between the sieves given by the logarithm of the size."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log
from types import MappingProxyType

from agronomy.liming_material.material import DUST_FINE, LimingMaterial

MESH_UM: Mapping[float, float] = MappingProxyType(
    {4: 4750, 8: 2360, 10: 2000, 16: 1180, 20: 850, 30: 600, 40: 425, 50: 300, 60: 250, 80: 180, 100: 150, 200: 75}
)
"""Opening of US standard sieves in micrometres (ASTM E11), for interpolation on log size."""
LARGEST_STONE_UM = 9500.0
"""All limestone sold for the field passes 3/8 inch (our reading where the coarsest sieve given is finer)."""
SMALLEST_STONE_UM = 1.0

Passing = tuple[tuple[float, float], ...]
SIEVE_CLASSES: tuple[tuple[str, float, float], ...] = (
    ("finer_than_60", 60, 1e9), ("30_to_60", 30, 60), ("8_to_30", 8, 30), ("coarser_than_8", 0, 8),
)  # fmt: skip
FINE_GRADE: Passing = ((20, 95), (60, 60), (100, 50))
"""The least that passes in the fine grade of Pennsylvania, Connecticut and Maine (second-hand)."""


def opening_um(mesh: float) -> float:
    """Opening of a US mesh (4 to 200) in micrometres; between listed sieves by the log of the mesh number.

    Raises `ValueError` outside that range.
    """
    if mesh in MESH_UM:
        return MESH_UM[mesh]
    if not 4 <= mesh <= 200:
        raise ValueError(f"mesh {mesh:g} is not 4 to 200")
    listed = sorted(MESH_UM)
    high = next(one for one in listed if one > mesh)
    low = listed[listed.index(high) - 1]
    share = log(mesh / low) / log(high / low)
    return float(MESH_UM[low] * (MESH_UM[high] / MESH_UM[low]) ** share)


def checked_sieves(passing_percent: Sequence[tuple[float, float]]) -> Passing:
    """The sieve analysis coarse to fine.

    Raises `ValueError` unless each mesh is 4 to 200 and named once, and the percent passing lies in 0 to 100 and
    never rises toward finer sieves.
    """
    ordered = tuple(sorted((float(mesh), float(share)) for mesh, share in passing_percent))
    before, finer_than = 100.0, 0.0
    for mesh, share in ordered:
        if not 4 <= mesh <= 200:
            raise ValueError(f"mesh {mesh:g} is not 4 to 200")
        if mesh == finer_than:
            raise ValueError(f"{mesh:g} mesh is given twice; each sieve is allowed once")
        if not 0 <= share <= 100:
            raise ValueError(f"{share:g} % through {mesh:g} mesh is not 0 to 100 %")
        if share > before:
            raise ValueError(
                f"{share:g} % through {mesh:g} mesh is more than through a coarser sieve; allowed 0 to {before:g} %"
            )
        before, finer_than = share, mesh
    return ordered


def passing_at(passing: Passing, mesh: float) -> tuple[float, bool]:
    """Percent through a mesh, and whether it was read between (or beyond) the sieves given, on log size.

    Beyond the coarsest sieve given in a straight line to 100 % at 3/8 inch; beyond the finest to nothing at 1
    micrometre. Raises `ValueError` without sieves.
    """
    if not passing:
        raise ValueError("the sieve analysis is missing")
    for one, share in passing:
        if one == mesh:
            return share, False
    size = log(opening_um(mesh))
    coarser = [(log(opening_um(one)), share) for one, share in passing if one < mesh]
    finer = [(log(opening_um(one)), share) for one, share in passing if one > mesh]
    top = coarser[-1] if coarser else (log(LARGEST_STONE_UM), 100.0)
    bottom = finer[0] if finer else (log(SMALLEST_STONE_UM), 0.0)
    share = top[1] + (top[0] - size) / (top[0] - bottom[0]) * (bottom[1] - top[1])
    return share, True


def sieve_classes(material: LimingMaterial) -> tuple[tuple[str, float], ...]:
    """Shares (0 to 1, summing to 1) finer than 60 mesh, 30-60, 8-30 and coarser than 8, finest first.

    Burnt and hydrated lime and suspensions without a sieve analysis count as finer than 60 mesh. Raises `ValueError`
    for any other material without one.
    """
    if not material.passing_percent:
        if material.form in DUST_FINE:
            return (("finer_than_60", 1.0), ("30_to_60", 0.0), ("8_to_30", 0.0), ("coarser_than_8", 0.0))
        raise ValueError(f"{material.name}: the sieve analysis is missing")
    passing = checked_sieves(material.passing_percent)
    p8, p30, p60 = (passing_at(passing, mesh)[0] / 100 for mesh in (8, 30, 60))
    return (("finer_than_60", p60), ("30_to_60", p30 - p60), ("8_to_30", p8 - p30), ("coarser_than_8", 1 - p8))


def fine_grade(material: LimingMaterial) -> bool | None:
    """Whether a stone is of the fine grade (95, 60 and 50 % through 20, 60 and 100 mesh); None without sieves."""
    if not material.passing_percent:
        return True if material.form in DUST_FINE else None
    passing = checked_sieves(material.passing_percent)
    return all(passing_at(passing, mesh)[0] >= least for mesh, least in FINE_GRADE)
