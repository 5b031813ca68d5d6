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
    return lines + (["", *record["messages"]] if record["messages"] else [])


def _ends(low: float, high: float | None) -> str:
    return f"{_number(low, 4)} to {'no limit' if high is None else _number(high, 4)}"


def _number(value: float | None, digits: int = 5) -> str:
    return "-" if value is None else f"{value:.{digits}g}"
