"""Turn the reference models of tests/reference into arguments of ``hoofcohort model``."""

import json
import re
from functools import cache
from pathlib import Path

import pandas as pd

REFERENCE = Path(__file__).parents[1] / "reference"


@cache
def truth() -> dict:
    models = json.loads((REFERENCE / "truth.json").read_text())["models"]
    return {model["id"]: model for model in models}


@cache
def schema() -> dict:
    return json.loads((REFERENCE / "data" / "schema.json").read_text())


def prepared(case: str, folder: Path) -> tuple[list[str], list[str]]:
    """Write the case's CSV with factor values prefixed by their rank in R's order; return the command's arguments.

    The second list holds R's random-effect names in the order of the command's groupings.
    """
    model = truth()[case]
    source = schema()[model["dataset"]]
    factors = source["factors"]
    table = pd.read_csv(REFERENCE / source["file"], dtype=str, keep_default_na=False)
    fixed, nested, also, groups = _parse(model["formula"])
    for column, values in factors.items():
        rank = {value: f"{place:03d}_{value}" for place, value in enumerate(values)} | {"": ""}
        if column not in nested and all(column != name.split(":")[1] for name in also):
            table[column] = table[column].map(rank)
    if "I(day^2)" in fixed:
        table["day2"] = pd.to_numeric(table["day"]) ** 2
        fixed = [term.replace("I(day^2)", "day2") for term in fixed]
    numbers = [name for term in fixed for name in re.findall(r"factor\((\w+)\)", term)]
    terms = [re.sub(r"factor\((\w+)\)", r"\1", term) for term in fixed]
    used = {part for term in terms for part in term.split(":")}
    path = folder / f"{case}.csv"
    table.to_csv(path, index=False)
    outcome = model["formula"].split("~")[0].strip()
    arguments = [str(path), "--outcome", outcome, "--terms", *terms, "--levels", *nested]
    arguments += ["--also", *also] if also else []
    categorical = sorted({*numbers, *(used & set(factors))})
    arguments += ["--categorical", *categorical] if categorical else []
    return arguments, groups


def _parse(formula: str) -> tuple[list[str], list[str], list[str], list[str]]:
    """Return fixed terms, nested levels, further groupings, and R's names of the groupings."""
    bars = re.findall(r"\(1 \| ([^)]*)\)", formula)
    right = re.sub(r"\+?\s*\(1 \|[^)]*\)", "", formula.split("~")[1])
    terms = []
    for term in (piece.strip() for piece in right.split("+")):
        if " * " in term:
            first, second = term.split(" * ")
            terms += [first, second, f"{first}:{second}"]
        elif term not in ("1", ""):
            terms.append(term)
    terms.sort(key=lambda term: term.count(":"))
    if "horse:visit" in formula:
        return terms, ["horse", "foot"], ["horse:visit"], ["horse", "horse:foot", "horse:visit"]
    nested = bars[0].split("/") if len(bars) == 1 else bars
    names = [nested[0]]
    for level in nested[1:] if len(bars) == 1 else []:
        names.append(f"{level}:{names[-1]}" if ":" not in names[-1] else f"{level}:({names[-1]})")
    return terms, nested, [], names if len(bars) == 1 else nested
