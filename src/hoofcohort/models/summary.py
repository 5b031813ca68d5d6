"""A fit's record as a few lines for the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def summary_lines(record: Mapping[str, Any], outcome: str) -> list[str]:
    """Return the lines that ``hoofcohort model`` prints."""
    groups = ", ".join(f"{name} {count}" for name, count in record["groups"].items())
    percent = f"{100 * record['confidence']:g}%"
    lines = [
        f"{outcome}: {record['rows_used']} rows used, {record['rows_dropped']} dropped; groups: {groups}",
        f"-2 log {'restricted ' if record['method'] == 'reml' else ''}likelihood {record['criterion']:.6g}; "
        f"{record['df_method']} degrees of freedom",
        "",
        f"{'term':32} {'estimate':>11} {'std error':>10} {'df':>8} {percent + ' interval':>25} {'p':>9}",
    ]
    for row in record["coefficients"]:
        interval = f"{_number(row['low'])} to {_number(row['high'])}"
        lines.append(
            f"{row['term']:32} {_number(row['estimate']):>11} {_number(row['std_error']):>10} "
            f"{_number(row['df'], 4):>8} {interval:>25} {_number(row['p'], 3):>9}"
        )
    shares = record.get("icc_intervals")
    head = f" {percent + ' interval':>25} {'share':>9} {percent + ' interval':>25}" if shares else ""
    lines += ["", f"{'level':32} {'variance':>11} {'sd':>10}{head}"]
    total = sum(row["variance"] for row in record["variances"])
    for row in record["variances"]:
        line = f"{row['level']:32} {_number(row['variance']):>11} {_number(row['sd']):>10}"
        if shares:
            own = shares[row["level"]]
            line += f" {_ends(row['sd_low'], row['sd_high']):>25} {_number(row['variance'] / total, 3):>9}"
            line += f" {_ends(own['low'], own['high']):>25}"
        lines.append(line)
    if "bootstrap" in record:
        lines += _bootstrap_lines(record["bootstrap"])
    return lines + (["", *record["messages"]] if record["messages"] else [])


def _bootstrap_lines(found: Mapping[str, Any]) -> list[str]:
    percent = f"{100 * found['confidence']:g}%"
    lines = [
        "",
        f"parametric bootstrap: {found['replicates']} refits, {found['failed']} left out; seed {found['seed']}",
        f"{'sd or coefficient':32} {'estimate':>11} {percent + ' interval':>25} {'bias':>10} {'std error':>10}",
    ]
    for row in (*found["sds"], *found["coefficients"]):
        lines.append(
            f"{row.get('level', row.get('term')):32} {_number(row['estimate']):>11} "
            f"{_ends(row['low'], row['high']):>25} {_number(row['bias'], 3):>10} {_number(row['std_error'], 3):>10}"
        )
    lines += ["", f"{'left out':32} {'LR':>11} {'df':>3} {'chi-square p':>13} {'bootstrap p':>12} {'(std error)':>12}"]
    for row in found["tests"]:
        lines.append(
            f"{row['tested']:32} {_number(row['statistic']):>11} {row['df']:>3} {_number(row['p_chi_square'], 3):>13} "
            f"{_number(row['p'], 3):>12} {'(' + _number(row['monte_carlo_error'], 2) + ')':>12}"
        )
    return lines


def _ends(low: float, high: float | None) -> str:
    return f"{_number(low, 4)} to {'no limit' if high is None else _number(high, 4)}"


def _number(value: float | None, digits: int = 5) -> str:
    return "-" if value is None else f"{value:.{digits}g}"
