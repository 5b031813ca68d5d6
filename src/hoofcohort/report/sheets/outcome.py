"""The tables of one outcome: effects, means, tests, variances, check."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from hoofcohort.report.numbers import (
    NOTHING,
    df_text,
    estimate_interval,
    fixed,
    has_interval,
    has_test,
    in_unit,
    p_cell,
    percent_level,
    significant,
    unit_words,
)
from hoofcohort.report.sheet import Column, Record, Sheet, text
from hoofcohort.report.text.fits import paired_effects
from hoofcohort.report.text.shapes import variable_unit
from hoofcohort.report.text.words import effect_label, exposure_title, level_name, upper_first

Model = Mapping[str, Any]
NUMBERS = ("estimate", "std_error", "df", "low", "high", "p")
VARIANCE_TEST = {"lr": "statistic", "bootstrap_p": "p", "bootstrap_p_std_error": "monte_carlo_error",
                 "mixture_p": "p_chi_square", "replicates": "replicates"}  # fmt: skip
"""Columns of the file of variances, and the keys of a likelihood-ratio test that they hold."""


def effects_sheet(model: Model) -> Sheet:
    """Return unadjusted beside adjusted effects."""
    records = []
    for row in model["effects"]:
        record = {"exposure": row["exposure"], "comparison": row["label"], "unit": row["unit"]}
        record["of_interest"] = bool(row["of_interest"])
        for kind in ("unadjusted", "adjusted"):
            record |= {f"{kind}_{key}": (row[kind] or {}).get(key) for key in NUMBERS} | {f"_{kind}": row[kind]}
        records.append(record)
    level = percent_level(model["settings"]["confidence"])
    return Sheet(
        f"effects_{model['outcome']['name']}",
        f"{_title(model)}: differences and slopes, unadjusted and adjusted{in_unit(model['outcome']['unit'])}.",
        (
            "exposure",
            "comparison",
            "unit",
            "of_interest",
            *tuple(f"{kind}_{key}" for kind in ("unadjusted", "adjusted") for key in NUMBERS),
        ),
        records,
        (
            Column("Comparison", _comparison, number=False),
            Column(f"Unadjusted ({level} interval)", lambda r: estimate_interval(r["_unadjusted"])),
            Column("p", lambda r: _p(r["_unadjusted"])),
            Column(f"Adjusted ({level} interval)", lambda r: estimate_interval(r["_adjusted"])),
            Column("df", lambda r: NOTHING if r["_adjusted"] is None else df_text(r["adjusted_df"])),
            Column("p", lambda r: _p(r["_adjusted"])),
        ),
        "Unadjusted: that exposure alone, same readings and levels. Adjusted: all exposures and adjustments together. "
        "p values in this table are not adjusted for multiplicity; the comparison of interest is set in bold.",
        marked=lambda record: record["of_interest"],
    )


def _p(row: Record | None) -> str:
    return p_cell(row["p"]) if row and has_interval(row) else NOTHING


def _comparison(record: Record) -> str:
    return effect_label({"exposure": record["exposure"], "label": record["comparison"]})


def means_sheet(model: Model) -> Sheet | None:
    """Return the marginal means, or None when no exposure has any."""
    records = model["adjusted"]["means"]
    if not records:
        return None
    level = percent_level(model["settings"]["confidence"])
    return Sheet(
        f"means_{model['outcome']['name']}",
        f"{_title(model)}: adjusted marginal means{in_unit(model['outcome']['unit'])}.",
        ("factor", "value", "estimate", "std_error", "df", "low", "high"),
        records,
        (
            Column("Value", text("value"), number=False),
            Column(f"Mean ({level} interval)", estimate_interval),
            Column("df", lambda r: NOTHING if r["estimate"] is None else df_text(r["df"])),
        ),
        means_note(model),
        group=lambda record: upper_first(exposure_title(record["factor"])),
    )


def means_note(model: Model) -> str:
    """Return what the marginal means are means of."""
    forms = {own.get("form") for own in model["settings"]["exposures"].values()}
    held = "numbers held at their mean, words weighted equally"
    if "share" in forms:
        day = ", or that value on the day of the visit" if _word_on_a_day(model) else ""
        return f"All days of the window with that value{day}; {held}, other shares of days at their mean."
    return f"{upper_first(held)}."


def _word_on_a_day(model: Model) -> bool:
    own = model["settings"]["exposures"]
    return any(own[row["factor"]].get("form") == "as_of" for row in model["adjusted"]["means"] if row["factor"] in own)


def f_tests_sheet(model: Model) -> Sheet:
    """Return the F tests of every term."""
    titles = {row["name"]: row["title"] for row in model["variables"]}
    return Sheet(
        f"tests_{model['outcome']['name']}",
        f"{_title(model)}: F tests of every term of the adjusted model (Kenward-Roger).",
        ("term", "num_df", "den_df", "f", "p"),
        model["adjusted"]["tests"],
        (
            Column("Term", lambda r: upper_first(_term_title(r["term"], titles)), number=False),
            Column("Numerator df", lambda r: NOTHING if r["num_df"] is None else f"{r['num_df']:g}"),
            Column("Denominator df", lambda r: NOTHING if r["f"] is None else df_text(r["den_df"])),
            Column("F", lambda r: significant(r["f"], 3) if has_test(r) else NOTHING),
            Column("p", lambda r: p_cell(r["p"]) if has_test(r) else NOTHING),
        ),
        "Each term given all others (type III). p values not adjusted for multiplicity. A term without F could not be "
        "estimated, or had fewer than one denominator degree of freedom.",
    )


def _term_title(term: str, titles: Mapping[str, str]) -> str:
    return " × ".join(titles.get(part, part) for part in term.split(":"))


def curve_sheet(model: Model, shape: Record) -> Sheet:
    """Return a curve's values: all in the CSV file, the percentiles and the ends on the page."""
    grid, unit = shape["grid"], variable_unit(shape["variable"])
    ends = {row["value"] for row in (*grid[:1], *grid[-1:])} | set(shape["percentiles"].values())
    level = percent_level(model["settings"]["confidence"])
    return Sheet(
        f"curve_{model['outcome']['name']}_{shape['variable']}",
        f"{_title(model)}: adjusted difference from {shape['title']} {shape['reference']:.4g} {unit}, the median"
        f"{in_unit(model['outcome']['unit'])}.",
        ("variable", "value", "reference", *NUMBERS),
        [{"variable": shape["variable"], "reference": shape["reference"], **row} for row in grid],
        (
            Column(f"{upper_first(shape['title'])}, {unit}", lambda r: f"{r['value']:.4g}", number=False),
            Column(f"Difference ({level} interval)", lambda r: estimate_interval(r) if r["std_error"] else "0"),
            Column("df", lambda r: df_text(r["df"]) if r["std_error"] else NOTHING),
        ),
        "Shown: the 1st, 10th, 50th, 90th and 99th percentile of the readings; the CSV file has the whole curve. "
        "Intervals are pointwise.",
        on_page=lambda record: record["value"] in ends,
    )


def variances_sheet(model: Model) -> Sheet:
    """Return variance, SD and ICC by level, with their intervals."""
    fit = model["adjusted"]
    shares = fit.get("icc_intervals", {})
    tests = (model.get("variance_tests") or {}).get("levels", {})
    records = [
        {"level": r["level"], "variance": r["variance"], "sd": r["sd"], "icc": fit["icc"].get(r["level"])}
        | {"groups": fit["groups"].get(r["level"], fit["rows_used"])}
        | {f"sd_{end}": r.get(f"sd_{end}") for end in ("low", "high")}
        | {f"icc_{end}": shares.get(r["level"], {}).get(end) for end in ("low", "high")}
        | {key: tests.get(r["level"], {}).get(name) for key, name in VARIANCE_TEST.items()}
        for r in fit["variances"]
    ]
    level = percent_level(fit.get("profile_confidence", model["settings"]["confidence"]))
    unit = unit_words(model["outcome"]["unit"])
    return Sheet(
        f"variances_{model['outcome']['name']}",
        f"{_title(model)}: variance left by exposures and adjustments, by level.",
        ("level", "groups", "variance", "sd", "sd_low", "sd_high", "icc", "icc_low", "icc_high", *VARIANCE_TEST),
        records,
        (
            Column("Between", lambda r: _between(r["level"]), number=False),
            Column("Groups", lambda r: str(r["groups"])),
            Column(f"SD, {unit} ({level} interval)", lambda r: significant(r["sd"], 3) + _sd_ends(r)),
            Column("Variance", lambda r: significant(r["variance"], 3)),
            Column(f"ICC ({level} interval)", _icc),
            *([Column("Bootstrap p", lambda r: p_cell(r["bootstrap_p"]))] if tests else []),
        ),
        "ICC: the level's share of this variance. Two readings are correlated by the sum of the shares of the "
        "levels that they have in common. Intervals follow the profile likelihood; one that begins at 0 leaves open "
        "whether the level adds anything.",
    )


def _sd_ends(record: Record) -> str:
    if record["sd_low"] is None:
        return ""
    high = "no limit" if record["sd_high"] is None else significant(record["sd_high"], 3)
    return f" ({significant(record['sd_low'], 3)} to {high})"


def _icc(record: Record) -> str:
    if record["icc"] is None:
        return NOTHING
    share = fixed(record["icc"], 2)
    if record["icc_low"] is None:
        return share
    return f"{share} ({fixed(record['icc_low'], 2)} to {fixed(record['icc_high'], 2)})"


def _between(level: str) -> str:
    return "readings of one foot (residual)" if level == "residual" else level_name(level)


def normality_sheet(model: Model) -> Sheet | None:
    """Return skewness and kurtosis of residuals and predicted effects, or None when they were not worked out."""
    records = [{"level": level, **row} for level, row in (model.get("normality") or {}).items() if row]
    if not records:
        return None
    return Sheet(
        f"normality_{model['outcome']['name']}",
        f"{_title(model)}: shape of residuals and of predicted effects per level.",
        ("level", "n", "skew", "kurtosis"),
        records,
        (
            Column("Level", lambda r: upper_first(_between(r["level"])), number=False),
            Column("n", text("n")),
            Column("Skewness", lambda r: fixed(r.get("skew"), 2)),
            Column("Excess kurtosis", lambda r: fixed(r.get("kurtosis"), 2)),
        ),
        "Both are 0 for a normal distribution. Few groups show little either way.",
    )


def check_sheet(model: Model) -> Sheet | None:
    """Return our estimates beside those of the independent program, or None when it was not run."""
    check = model.get("check") or {}
    if not check.get("available"):
        return None
    rows = [{"kind": "coefficient", "name": r["term"], **r} for r in check["coefficients"]]
    rows += [{"kind": "variance", "name": f"variance: {_between(r['level'])}", **r} for r in check["variances"]]
    if check.get("criterion"):
        rows.append({"kind": "criterion", "name": "−2 log likelihood", **check["criterion"]})
    return Sheet(
        f"check_{model['outcome']['name']}",
        f"{_title(model)}: the adjusted model by this program and by {check['library']} {check['version']}.",
        ("kind", "name", "ours", "theirs", "ours_std_error", "theirs_std_error"),
        rows,
        (
            Column("Quantity", text("name"), number=False),
            Column("Here", _six("ours")),
            Column("There", _six("theirs")),
            Column("SE here", _six("ours_std_error")),
            Column("SE there", _six("theirs_std_error")),
        ),
        "Standard errors before the Kenward-Roger adjustment, which the other program does not make.",
    )


def _six(key: str) -> Callable[[Record], str]:
    return lambda record: significant(record.get(key), 6)


def without_visit_sheet(model: Model) -> Sheet | None:
    """Return the effects with and without the grouping by visit, or None when that was not fitted."""
    records = [
        {"comparison": row["label"], "exposure": row["exposure"]}
        | {f"with_{key}": row["adjusted"][key] for key in NUMBERS}
        | {f"without_{key}": other["adjusted"].get(key) for key in NUMBERS}
        | {"_with": row["adjusted"], "_without": other["adjusted"]}
        for row, other in paired_effects(model)
    ]
    if not records:
        return None
    level = percent_level(model["settings"]["confidence"])
    return Sheet(
        f"without_visit_{model['outcome']['name']}",
        f"{_title(model)}: adjusted estimates with, and for comparison without, the visits of a horse as a level.",
        ("exposure", "comparison", *tuple(f"{kind}_{key}" for kind in ("with", "without") for key in NUMBERS)),
        records,
        (
            Column("Comparison", _comparison, number=False),
            Column(f"With ({level} interval)", lambda r: estimate_interval(r["_with"])),
            Column("SE", lambda r: significant(r["with_std_error"], 2)),
            Column("df", lambda r: df_text(r["with_df"])),
            Column(f"Without ({level} interval)", lambda r: estimate_interval(r["_without"])),
            Column("SE", lambda r: significant(r["without_std_error"], 2)),
            Column("df", lambda r: df_text(r["without_df"])),
        ),
        "The report's results are those with the visits. The others are shown only for what they would have claimed.",
    )


def coefficients_sheet(model: Model) -> Sheet:
    """Return every coefficient of the adjusted model."""
    curves = " Columns of a curve mean nothing one by one: see Curves." if model.get("shapes") else ""
    level = percent_level(model["settings"]["confidence"])
    return Sheet(
        f"coefficients_{model['outcome']['name']}",
        f"{_title(model)}: every coefficient of the adjusted model{in_unit(model['outcome']['unit'])}.",
        ("term", "estimate", "std_error", "std_error_unadjusted", "df", "t", "p", "low", "high"),
        model["adjusted"]["coefficients"],
        (
            Column("Coefficient", text("term"), number=False),
            Column(f"Estimate ({level} interval)", estimate_interval),
            Column("df", lambda r: df_text(r["df"])),
            Column("p", lambda r: p_cell(r["p"])),
        ),
        "Words: difference from the reference value. Shares of days: all days against all days on the reference. "
        f"Numbers: per one unit.{curves}",
    )


def family_sheet(family: list[dict[str, Any]], titles: Mapping[str, str], method: str) -> Sheet:
    """Return the declared family of tests with plain and adjusted p values."""
    adjusted = {"holm": "p, Holm-adjusted", "none": "p, not adjusted (plan)"}[method]
    return Sheet(
        "multiplicity",
        "The declared family: F tests of the exposures in the adjusted models.",
        ("outcome", "exposure", "num_df", "den_df", "f", "p", "p_adjusted"),
        family,
        (
            Column("Outcome", lambda r: upper_first(titles[r["outcome"]]), number=False),
            Column("Exposure", lambda r: upper_first(exposure_title(r["exposure"])), number=False),
            Column("F (df)", _f_df),
            Column("p", lambda r: p_cell(r["p"])),
            Column(adjusted, lambda r: p_cell(r["p_adjusted"])),
        ),
    )


def _f_df(record: Record) -> str:
    if not has_test(record):
        return NOTHING
    return f"{significant(record['f'], 3)} ({record['num_df']:g}; {df_text(record['den_df'])})"


def _title(model: Model) -> str:
    return upper_first(model["outcome"]["title"])
