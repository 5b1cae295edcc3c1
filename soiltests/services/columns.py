"""What a report's columns mean: guessed from their headings, chosen by a person, remembered for the lab."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from soiltests.analytes import ANALYTES

ROLES: Mapping[str, str] = {
    "": "leave out",
    "plot": "plot or sample name",
    "label": "name on the bag",
    "sampled_on": "date sampled",
    "depth": "depth, as 0-6",
    "depth_top": "depth from",
    "depth_bottom": "depth to",
    "lab_number": "the lab's number",
    "ph": "soil pH",
    "buffer_ph": "buffer pH",
    "lab_lime_amount": "the lab's lime",
    "lab_n": "the lab's N",
    "lab_p2o5": "the lab's P2O5",
    "lab_k2o": "the lab's K2O",
    "lab_crop": "the lab's crop",
    **{analyte.key: analyte.name for analyte in ANALYTES.values()},
}
_WORDS: Sequence[tuple[str, str]] = (
    (r"\b(buffer|bph|b ph|smp|sikora|mehlich buffer|lime index)\b", "buffer_ph"),
    (r"\b(ph|phw|ph water|water ph|soil ph|wph)\b", "ph"),
    (r"\b(sample date|date sampled|sampled|sampled on|sampling date|date)\b", "sampled_on"),
    (r"\b(plot|field|plot code|plot id|sample id|sample name|sample)\b", "plot"),
    (r"\b(lab no|lab number|lab id|laboratory number)\b", "lab_number"),
    (r"\bdepth\b", "depth"),
    (r"\b(bag|label)\b", "label"),
    (
        r"^(lime|(ag )?lime (rate|rec|recommendation|requirement|needed|advice)\b.*|recommended lime)$",
        "lab_lime_amount",
    ),
    (r"\b(n rec|n rate|recommended n)\b", "lab_n"),
    (r"\b(p2o5 rec|p2o5 rate|recommended p2o5)\b", "lab_p2o5"),
    (r"\b(k2o rec|k2o rate|recommended k2o)\b", "lab_k2o"),
    (r"\b(crop|crop code)\b", "lab_crop"),
    (r"\b(organic matter|om|humus)\b", "organic_matter"),
    (r"\b(cec|cation exchange)\b", "cec"),
    (r"\b(exchangeable acidity|acidity|ea|ac)\b", "exchangeable_acidity"),
    (r"\b(weight volume|volume weight|w v|wv)\b", "volume_weight"),
    (r"\b(phosphorus|p|p i|p index|olsen p|bray p|m3 p|mehlich p)\b", "p"),
    (r"\b(potassium|k|k i|k index|exch k)\b", "k"),
    (r"\b(magnesium|mg|exch mg)\b", "mg"),
    (r"\b(calcium|ca|exch ca)\b", "ca"),
    (r"\b(sulfur|sulphur|s|s i)\b", "s"),
    (r"\b(boron|b)\b", "b"),
    (r"\b(zinc|zn|zn i)\b", "zn"),
    (r"\b(manganese|mn|mn i)\b", "mn"),
    (r"\b(copper|cu|cu i)\b", "cu"),
    (r"\b(iron|fe)\b", "fe"),
    (r"\b(sodium|na)\b", "na"),
)
# Units as headings write them, longest first so that lb/acre is not read as lb.
_UNITS: Sequence[tuple[str, str]] = (
    (r"mg caco3", "mg CaCO3/kg/pH"),
    (r"meq\s*/?\s*100\s*cm3", "meq/100 cm3"),
    (r"(meq\s*/?\s*100\s*g|meq)", "meq/100 g"),
    (r"cmol", "cmol/kg"),
    (r"(lbs?\s*/?\s*a(c|cre)?\b)", "lb/acre"),
    (r"kg\s*/?\s*ha", "kg/ha"),
    (r"mg\s*/?\s*dm3", "mg/dm3"),
    (r"mg\s*/?\s*kg", "mg/kg"),
    (r"g\s*/?\s*kg", "g/kg"),
    (r"g\s*/?\s*m3", "g/m3"),
    (r"g\s*/?\s*cm3", "g/cm3"),
    (r"\bppm\b", "ppm"),
    (r"(\bindex\b|\b[a-z]{1,2} i\b)", "index"),
    (r"(%|\bpercent\b)", "%"),
)
_EXTRACTANTS: Sequence[tuple[str, str]] = (
    (r"mehlich ?(1|i)\b|\bm1\b", "mehlich1"),
    (r"mehlich|\bm3\b", "mehlich3"),
    (r"bray ?(p ?)?2", "bray_p2"),
    (r"bray", "bray_p1"),
    (r"olsen|bicarb", "olsen"),
    (r"exch|ammonium acetate|\baa\b|nh4oac", "ammonium_acetate"),
    (r"modified morgan", "modified_morgan"),
    (r"morgan", "morgan"),
    (r"dtpa", "dtpa"),
    (r"hot water", "hot_water"),
)


def plain(heading: str) -> str:
    """A heading without its punctuation, in lower case."""
    return " ".join(re.sub(r"[^a-z0-9%/]+", " ", heading.lower()).split())


def _first(rules: Sequence[tuple[str, str]], text: str) -> str:
    return next((value for pattern, value in rules if re.search(pattern, text)), "")


def role_of(heading: str) -> str:
    """What a heading most likely means; empty for one that is not known."""
    words = plain(heading)
    for pattern, _ in _UNITS:
        stripped = " ".join(re.sub(pattern, " ", words).split())
        if stripped and stripped != words and not re.search(r"\b[a-z]{1,2} i\b", words):
            words = stripped
            break
    return _first(_WORDS, words)


def unit_of(heading: str, role: str) -> str:
    """The unit that a heading states, if the role's figure can be in it; else the role's usual one where it has one."""
    analyte = ANALYTES.get(role)
    if analyte is None:
        return "cm" if role.startswith("depth") and re.search(r"\bcm\b", plain(heading)) else ""
    stated = _first(_UNITS, plain(heading))
    if stated in analyte.units:
        return stated
    return "" if analyte.extracted else analyte.units[0]


def guessed(head: Sequence[str], *, remembered: Mapping[str, Any], extractant: str) -> dict[str, dict[str, str]]:
    """For each column by its number: role, unit and extractant, as remembered for the lab, else guessed.

    A role is given once: of two columns that look alike, the first has it.
    """
    kept = remembered.get("by_heading", {})
    found: dict[str, dict[str, str]] = {}
    taken: set[str] = set()
    for number, heading in enumerate(head):
        choice = dict(kept.get(plain(heading), {})) or _guess(heading, extractant)
        if choice["role"] in taken:
            choice["role"] = ""
        taken |= {choice["role"]} - {""}
        found[str(number)] = choice
    return found


def _guess(heading: str, extractant: str) -> dict[str, str]:
    role = role_of(heading)
    analyte = ANALYTES.get(role)
    by_heading = _first(_EXTRACTANTS, plain(heading)) if analyte and analyte.extracted else ""
    default = extractant if analyte and analyte.extracted and role in ("p", "k", "mg", "ca") else ""
    return {"role": role, "unit": unit_of(heading, role), "extractant": by_heading or default}


def to_remember(head: Sequence[str], columns: Mapping[str, Mapping[str, str]]) -> dict[str, dict[str, str]]:
    """The choices by heading, for the lab's next file."""
    return {plain(heading): dict(columns[str(number)]) for number, heading in enumerate(head) if str(number) in columns}
