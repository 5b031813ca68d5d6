"""How the benchmarks print numbers and tables."""

from __future__ import annotations


def seconds_text(value: float) -> str:
    """Return a time with three digits and its unit."""
    return f"{1000 * value:.3g} ms" if value < 1 else f"{value:.3g} s"


def table(head: list[str], rows: list[list[str]]) -> str:
    """Return a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)
