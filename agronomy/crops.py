"""The crops of food plots: what each asks of the soil, and what a mix of them asks together.

The catalogue is `tables/crops.toml`; every figure there names its source. A manager's own crops come in as
`Crop` objects beside it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Any, Literal, get_args

from agronomy.findings import Finding, check
from agronomy.sources import Status, load_table, source

Group = Literal[
    "legume_perennial", "legume_annual", "cereal", "brassica", "corn", "soybean", "sorghum", "millet", "forb",
    "root", "grass", "native_grass", "fruit_tree", "berry",
]  # fmt: skip
NitrogenRule = Literal["legume", "rate", "grass_yield", "by_tree"]
LimeSensitivity = Literal["high", "medium", "low"]
"""How much a crop minds acid soil: `high` fails first when lime is short."""

GROUPS: tuple[Group, ...] = get_args(Group)
GROUP_NAMES: Mapping[Group, str] = MappingProxyType(
    {
        "legume_perennial": "perennial legumes", "legume_annual": "annual legumes", "cereal": "small grains",
        "brassica": "brassicas", "corn": "corn", "soybean": "soybeans", "sorghum": "sorghums", "millet": "millets",
        "forb": "forbs", "root": "root crops", "grass": "cool-season and sod grasses",
        "native_grass": "native warm-season grasses", "fruit_tree": "fruit trees", "berry": "acid-loving berries",
    }
)  # fmt: skip

DEFAULT_TARGET_PH, DEFAULT_FLOOR_PH = 6.2, 6.0
"""Where no crop table says otherwise (common practice): target 6.2, good from 6.0."""
OWN_FIGURE = "manager_own_figure"
NO_CROP = "crop_ph_default"

_RANGES: Mapping[str, tuple[float, float]] = {
    "target_ph": (4.0, 8.0), "floor_ph": (4.0, 8.0), "upper_ph": (5.0, 9.0), "n_lb_per_acre": (0.0, 300.0),
    "n_low_lb_per_acre": (0.0, 300.0), "n_high_lb_per_acre": (0.0, 300.0),
    "n_single_dose_lb_per_acre": (1.0, 300.0), "n_credit_low_lb_per_acre": (0.0, 300.0),
    "n_credit_high_lb_per_acre": (0.0, 300.0), "removal_p2o5_lb_per_unit": (0.0, 100.0),
    "removal_k2o_lb_per_unit": (0.0, 200.0), "yield_per_acre": (0.0, 500.0),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Crop:
    """One crop. `sources` names the source of each figure by its field; a field not named is the manager's own.

    pH is in water. N figures are lb/acre a season for `n_rule` `rate`; `n_credit_*` is what a grown legume leaves
    to the next planting. Removal is lb per `yield_unit` carried off; `yield_per_acre` a usual yield, 0 unknown.
    """

    key: str
    name: str
    group: Group
    perennial: bool = False
    legume: bool = False
    seasons: tuple[str, ...] = ("spring", "fall")
    ph_critical: bool = False
    lime_sensitivity: LimeSensitivity = "medium"
    target_ph: float = DEFAULT_TARGET_PH
    floor_ph: float = DEFAULT_FLOOR_PH
    upper_ph: float | None = None
    n_rule: NitrogenRule = "rate"
    n_lb_per_acre: float = 0.0
    n_low_lb_per_acre: float | None = None
    n_high_lb_per_acre: float | None = None
    n_single_dose_lb_per_acre: float = 60.0
    n_timing: str = ""
    n_credit_low_lb_per_acre: float = 0.0
    n_credit_high_lb_per_acre: float = 0.0
    yield_unit: str = ""
    yield_per_acre: float = 0.0
    removal_p2o5_lb_per_unit: float | None = None
    removal_k2o_lb_per_unit: float | None = None
    boron_lb_per_acre: float = 0.0
    sources: Mapping[str, str] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        if not self.key or not self.name:
            raise ValueError("a crop needs a key and a name")
        if self.group not in GROUPS:
            raise ValueError(f"crop {self.key}: group {self.group!r} is none of {', '.join(GROUPS)}")
        for name, (low, high) in _RANGES.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise ValueError(f"crop {self.key}: {name} is {value}, allowed {low:g} to {high:g}")
        if self.floor_ph > self.target_ph:
            raise ValueError(f"crop {self.key}: floor pH {self.floor_ph} is above target pH {self.target_ph}")
        if self.upper_ph is not None and self.upper_ph < self.target_ph:
            raise ValueError(f"crop {self.key}: upper pH {self.upper_ph} is under target pH {self.target_ph}")

    def __hash__(self) -> int:
        return hash(self.key)

    def source_of(self, figure: str) -> str:
        """The key of the source of one figure, named by its field."""
        return self.sources.get(figure, OWN_FIGURE)

    def status_of(self, figure: str) -> Status:
        """The status of one figure: published, from memory, common practice and so on."""
        return source(self.source_of(figure)).status


@dataclass(frozen=True, slots=True)
class CropDemand:
    """What a crop or mix asks together, by its most demanding species.

    `target_ph` and `floor_ph` are the highest of the components' (by `target_crop` and `floor_crop`), `upper_ph`
    the lowest (`upper_crop`), None where no component has one. `legume_share_percent` is by the seed shares given.
    `components` are the largest share first; empty for ground without a crop, which goes by the default target.
    """

    target_ph: float = DEFAULT_TARGET_PH
    floor_ph: float = DEFAULT_FLOOR_PH
    upper_ph: float | None = None
    ph_critical: bool = False
    components: tuple[tuple[Crop, float], ...] = ()
    legume_share_percent: float = 0.0
    target_crop: str = ""
    floor_crop: str = ""
    upper_crop: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def crop_keys(self) -> tuple[str, ...]:
        """Keys of the components, the largest share first."""
        return tuple(crop.key for crop, _ in self.components)

    @property
    def lead(self) -> Crop | None:
        """The crop of the largest share; None without a crop."""
        return self.components[0][0] if self.components else None

    @property
    def target_source(self) -> str:
        """The key of the source of the target pH."""
        for crop, _ in self.components:
            if crop.key == self.target_crop:
                return crop.source_of("target_ph")
        return NO_CROP

    @property
    def perennial(self) -> bool:
        """Whether any component stands for years."""
        return any(crop.perennial for crop, _ in self.components)


def crop(key: str) -> Crop:
    """A crop of the catalogue; raises `ValueError` for an unknown key."""
    try:
        return crops()[key]
    except KeyError:
        raise ValueError(f"no crop {key!r}; the catalogue has {', '.join(crops())}") from None


def crop_name(key: str, *, extra: Mapping[str, Crop] = MappingProxyType({})) -> str:
    """The name of a crop of the catalogue or of the manager's own; the key itself for one that is gone."""
    found = extra.get(key) or crops().get(key)
    return found.name if found else key.replace("_", " ")


@cache
def crops() -> Mapping[str, Crop]:
    """The whole catalogue by key, in the order of its table."""
    return MappingProxyType({key: _parsed(key, raw) for key, raw in load_table("crops")["crops"].items()})


def _parsed(key: str, raw: Mapping[str, Any]) -> Crop:
    fields: dict[str, Any] = {}
    named: dict[str, str] = {}
    for name, value in raw.items():
        if name == "seasons":
            fields[name] = tuple(value)
        elif isinstance(value, list):  # a figure with its source
            fields[name], named[name] = value
            source(named[name])
        else:
            fields[name] = value
    return Crop(key=key, sources=MappingProxyType(named), **fields)


def combine(
    components: Sequence[tuple[str, float]], *, extra: Mapping[str, Crop] = MappingProxyType({})
) -> CropDemand:
    """What the crops of a planting ask together.

    `components` are crop keys with their seed shares (over 0 to 100; they need not sum to 100); `extra` are the
    manager's own crops by key, which stand before the catalogue's. An empty sequence is ground without a crop.
    Raises `ValueError` for an unknown key, a share outside its range or a crop named twice.
    """
    if not components:
        return CropDemand()
    found = _found(components, extra)
    total = sum(share for _, share in found)
    target = max((crop for crop, _ in found), key=lambda crop: crop.target_ph)
    floor = max((crop for crop, _ in found), key=lambda crop: crop.floor_ph)
    limited = [crop for crop, _ in found if crop.upper_ph is not None]
    upper = min(limited, key=lambda crop: crop.upper_ph or 0.0) if limited else None
    return CropDemand(
        target_ph=target.target_ph,
        floor_ph=floor.floor_ph,
        upper_ph=upper.upper_ph if upper else None,
        ph_critical=any(crop.ph_critical for crop, _ in found),
        components=found,
        legume_share_percent=100.0 * sum(share for crop, share in found if crop.legume) / total,
        target_crop=target.key,
        floor_crop=floor.key,
        upper_crop=upper.key if upper else "",
        findings=_conflict(target, upper),
    )


def _found(
    components: Sequence[tuple[str, float]], extra: Mapping[str, Crop]
) -> tuple[tuple[Crop, float], ...]:
    catalogue = crops()
    found: list[tuple[Crop, float]] = []
    for key, share in components:
        if not (math.isfinite(share) and 0 < share <= 100):
            raise ValueError(f"the share of {key} is {share} percent, allowed over 0 to 100")
        known = extra.get(key) or catalogue.get(key)
        if known is None:
            crop(key)  # raises, with the keys there are
            raise AssertionError(key)
        found.append((known, share))
    if len({known.key for known, _ in found}) != len(found):
        raise ValueError("a crop may be named once in a planting")
    return tuple(sorted(found, key=lambda entry: -entry[1]))


def _conflict(target: Crop, upper: Crop | None) -> tuple[Finding, ...]:
    """Two crops of one mix, of which one wants a pH that the other cannot stand."""
    if upper is None or upper.upper_ph is None or upper.upper_ph >= target.target_ph:
        return ()
    return (
        check(
            "mix_ph_conflict", source=upper.source_of("upper_ph"), demanding_crop=target.name,
            target_ph=target.target_ph, tender_crop=upper.name, upper_ph=upper.upper_ph,
        ),
    )  # fmt: skip
