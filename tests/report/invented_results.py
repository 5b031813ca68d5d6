"""Results of an outcome as the study stage writes them, with invented numbers; tests change what they are about."""

from __future__ import annotations

from copy import deepcopy


def estimate(value, low, high, p=0.01, df=40.0):
    return {"estimate": value, "std_error": (high - low) / 4, "df": df, "low": low, "high": high, "p": p}


def fit(**changes):
    return {
        "rows_used": 120,
        "rows_dropped": 0,
        "groups": {"yard": 8, "horse": 30, "foot": 110, "horse:visit": 60},
        "method": "reml",
        "df_method": "kenward-roger",
        "confidence": 0.95,
        "criterion": 512.25,
        "converged": True,
        "boundary": [],
        "iterations": 6,
        "gradient": 1e-9,
        "dropped_terms": [],
        "coefficients": [
            {"term": "(intercept)", **estimate(9.0, 7.0, 11.0), "std_error_unadjusted": 0.9, "t": 9.0},
            {"term": "diet[concentrate]", **estimate(2.3, 1.0, 3.6), "std_error_unadjusted": 0.6, "t": 3.5},
        ],
        "tests": [
            {"term": "diet", "num_df": 2, "den_df": 41.5, "f": 6.1, "p": 0.0048},
            {"term": "age_years", "num_df": 1, "den_df": 28.0, "f": 0.4, "p": 0.53},
        ],
        "variances": [
            {"level": "yard", "variance": 1.0, "sd": 1.0},
            {"level": "horse", "variance": 4.0, "sd": 2.0},
            {"level": "foot", "variance": 1.0, "sd": 1.0},
            {"level": "horse:visit", "variance": 1.0, "sd": 1.0},
            {"level": "residual", "variance": 1.0, "sd": 1.0},
        ],
        "means": [
            {"factor": "diet", "value": "hay", **estimate(9.0, 8.0, 10.0)},
            {"factor": "diet", "value": "concentrate", **estimate(11.3, 10.0, 12.6)},
        ],
        "contrasts": [],
        "icc": {"yard": 0.125, "horse": 0.5, "foot": 0.125, "horse:visit": 0.125},
        "r2": {"marginal": 0.2491, "conditional": 0.861},
        "messages": [],
    } | changes


def effect(adjusted, *, exposure="diet", label="concentrate v hay (all days v all days)", of_interest=True, **more):
    unadjusted = estimate(3.1, 1.2, 5.0, p=0.0021)
    return {
        "exposure": exposure,
        "label": label,
        "unit": "deg",
        "of_interest": of_interest,
        "unadjusted": unadjusted,
        "adjusted": adjusted,
        **more,
    }


def step(name, lost=0, reason="", readings=120, horses=30, yards=8):
    return {
        "step": name,
        "readings": readings,
        "feet": 110,
        "horses": horses,
        "yards": yards,
        "owners": 20,
        "lost": lost,
        "reason": reason,
    }


def model(**changes):
    exposures = {
        "diet": {"form": "share", "reference": "hay", "per": None},
        "trim_interval_days": {"form": "mean", "reference": None, "per": 7.0},
    }
    base = {
        "outcome": {
            "name": "heel_underrun_deg",
            "title": "toe-heel angle difference",
            "unit": "deg",
            "role": "primary",
            "formula": "toe_angle_deg - heel_angle_deg",
            "source": "somebody (published)",
            "window_days": 120,
        },
        "settings": {
            "name": "heel_underrun_deg",
            "role": "primary",
            "window_days": 120,
            "exposures": exposures,
            "interactions": [],
            "comparison": {"exposure": "diet", "first": "concentrate", "second": "hay"},
            "adjustments": ["age_years"],
            "levels": ["yard", "horse", "foot"],
            "also": ["horse:visit"],
            "confidence": 0.95,
            "minimum_coverage": 0.8,
        },
        "flow": [step("accepted readings", readings=150), step("diet on record", 30, "diet not on record")],
        "variables": [
            {"name": "diet", "title": "diet", "role": "exposure", "kind": "shares", "missing": 30},
            {
                "name": "trim_interval_days",
                "title": "trim interval",
                "role": "exposure",
                "kind": "covariate",
                "missing": 0,
            },
            {"name": "age_years", "title": "age at the visit", "role": "adjustment", "kind": "covariate", "missing": 0},
        ],
        "adjusted": fit(),
        "unadjusted": {"diet": fit()},
        "effects": [
            effect(estimate(2.31, 1.02, 3.6)),
            effect(
                estimate(0.2, -0.4, 0.8),
                exposure="trim_interval_days",
                label="trim interval, per 7 days (mean over the window)",
                of_interest=False,
            ),
        ],
        "check": None,
        "without_visit": None,
        "influence": None,
        "normality": {},
        "messages": [],
    }
    return deepcopy(base) | changes
