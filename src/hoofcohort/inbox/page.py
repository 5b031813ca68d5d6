"""What the letters and the coordinator's page share: the page around them, and how lines are named."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from hoofcohort.files import without_steering
from hoofcohort.sheets.told import runs_of

_RUNS = 500
"""Stretches of lines that are named; more are counted."""
_STYLE = """
body{font:16px/1.5 sans-serif;color:#222;max-width:62rem;margin:2rem auto;padding:0 1rem}
table{border-collapse:collapse;width:100%;font-size:14px;margin:.5rem 0 1.5rem}
th,td{border:1px solid #aaa;padding:.3rem .5rem;text-align:left;vertical-align:top;overflow-wrap:anywhere}
th{background:#eee;white-space:nowrap;overflow-wrap:normal}td{min-width:3.5rem}td:nth-child(3){min-width:8.5rem}td.n{min-width:0}thead{display:table-header-group}tr{break-inside:avoid}
h2{margin:1.8rem 0 .3rem;font-size:1.2rem}
li{white-space:pre-line}
td.n{text-align:right}
@media print{body{margin:0;max-width:none;font-size:12px}table{font-size:10px}}
"""


def page(title: str, body: Sequence[str]) -> str:
    """Return a self-contained page of HTML that is escaped already."""
    head = f'<meta charset="utf-8"><title>{escape(title)}</title><style>{_STYLE}</style>'
    return without_steering(
        "\n".join([f'<!doctype html>\n<html lang="en"><head>{head}</head><body>', *body, "</body></html>", ""])
    )


def lines_text(lines: Sequence[int]) -> str:
    """Return line numbers with neighbours joined: ``2, 5-9``."""
    told = [str(first) if first == last else f"{first}-{last}" for first, last in runs_of(sorted(set(lines)))]
    return ", ".join(told[:_RUNS]) + (f" and {len(told) - _RUNS} more" if len(told) > _RUNS else "")
