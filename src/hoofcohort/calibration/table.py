"""The calibration's table: what its columns mean, how it is written and read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd

from hoofcohort.calibration.cells import EFFECTS, HORSES, KEPT, LEVELS, METHODS, SEED, SPREADS, cells
from hoofcohort.files import write_text_atomic

KEY = ["horses", "shape", "errors", "spread"]
MEANINGS = {
    "horses": "number of horses",
    "shape": "balanced: 4 feet at 3 visits; ragged: 1 to 4 visits, "
    f"each equally likely, and {100 * (1 - KEPT):.0f}% of the readings missing at random",
    "errors": "random effects and errors: normal, or skewed (exponential less its mean: skewness 2, excess kurtosis 6)",
    "spread": "SD of horses, feet, visits and single readings: "
    + "; ".join(f"{name} {', '.join(map(str, sds))}" for name, sds in SPREADS.items()),
    "level": "what the exposure is of: the horse (half of them have it), each visit of a horse (all its feet alike), "
    "the foot (all visits alike); 'all three' is the joint F test (chi-squared for z), and its coverage the share of "
    "cohorts in which the test at 5% stays silent about the truth",
    "method": "Kenward-Roger; Satterthwaite (unadjusted standard error); z (1.96 unadjusted standard errors)",
    "coverage": "share of cohorts whose nominal 95% interval holds the truth; one less it is the type I error of the "
    "test at 5%, exactly, as adding a known difference to the outcome moves the estimate by it and nothing else",
    "mc_se": "Monte Carlo standard error of coverage, between designs",
    "given": "cohorts counted: those fitted for which the method gives an answer",
    "mean_width": "mean width of the intervals, in the outcome's unit",
    "median_df": "median degrees of freedom",
    "error_ratio": "root mean square of the standard errors over the standard deviation of the estimates",
    "at_boundary": "share of fits with a variance at zero",
    "unconverged": "fits that did not converge; counted with the others",
    "refused": "cohorts that the engine refused to fit",
    "cohorts": "cohorts drawn",
    "designs": "shapes and exposures drawn; the cohorts of one differ in their outcomes only",
}
"""Every column, in order."""


def gather(parts: Sequence[Path], out: Path, versions: Mapping[str, str]) -> pd.DataFrame:
    """Join the cells' files into the table, in the order of :func:`cells.cells`, under a head that says how.

    Raises
    ------
    ValueError
        When a cell is missing.
    """
    whole = pd.concat([pd.read_csv(path) for path in parts], ignore_index=True)
    order = {tuple(vars(cell).values()): place for place, cell in enumerate(cells())}
    places = whole[KEY].apply(tuple, axis=1).map(order)
    if set(places) != set(order.values()):
        raise ValueError(f"cells are missing: {len(set(places))} of {len(order)} are there")
    whole = whole.assign(place=places).sort_values("place", kind="stable").drop(columns="place")
    counts = " or ".join(str(cohorts) for cohorts in sorted(set(whole.cohorts)))
    write_text_atomic(out, "".join(f"# {line}\n" for line in _head(counts, versions)) + as_text(whole))
    return whole.reset_index(drop=True)


def as_text(table: pd.DataFrame) -> str:
    """Return rows as CSV: five decimals, widths and df four digits at least; empty where there is no number."""
    shown = table[list(MEANINGS)].copy()
    for name in ("mean_width", "median_df", "error_ratio"):
        shown[name] = [f"{value:.5g}" if 0 <= value < float("inf") else "" for value in shown[name]]
    return str(shown.to_csv(index=False, float_format="%.5f", lineterminator="\n"))


def _head(cohorts: str, versions: Mapping[str, str]) -> list[str]:
    about = [
        f"Calibration of 95% intervals over invented cohorts: {cohorts} a cell, {len(list(cells()))} cells "
        f"({', '.join(map(str, HORSES))} horses), seed {SEED}.",
        "Made by: snakemake --cores 2 calibration",
        f"With {', '.join(f'{name} {number}' for name, number in versions.items())}.",
        "Model: three exposures together, random intercepts for horse, foot in horse and visit in horse; REML. "
        f"True intercept and differences: {', '.join(map(str, EFFECTS))}. No yards.",
    ]
    return about + [f"{name}: {meaning}." for name, meaning in MEANINGS.items()]


def as_markdown(table: pd.DataFrame, errors: str) -> str:
    """Return the coverages of one kind of errors, in percent: a line a setting, a column a level and method."""
    own = table[table.errors == errors]
    lines = [
        "| horses | shape | differences | " + " | ".join(f"{level}: {', '.join(METHODS)}" for level in LEVELS)
        + " | F test: " + ", ".join(METHODS) + " | singular |",
        "|" + "---|" * (len(LEVELS) + 5),
    ]  # fmt: skip
    for (horses, shape, spread), rows in own.groupby(["horses", "shape", "spread"], sort=False):
        shares = [
            ", ".join(f"{100 * share:.1f}" for share in part.coverage) for _, part in rows.groupby("level", sort=False)
        ]
        singular = f"{100 * rows.at_boundary.iloc[0]:.0f}%"
        lines.append("| " + " | ".join([str(horses), str(shape), str(spread), *shares, singular]) + " |")
    return "\n".join(lines) + "\n"


def outside(table: pd.DataFrame, method: str = METHODS[0], low: float = 0.94, high: float = 0.96) -> pd.DataFrame:
    """Return the rows of a method whose coverage lies outside [low, high]."""
    own = table[table.method == method]
    return own[~own.coverage.between(low, high)]
