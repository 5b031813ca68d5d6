"""The flow drawn: rows received, rows accepted, readings that each outcome's analysis could use."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import FancyBboxPatch

from hoofcohort.report.figures.canvas import GRID, INK, MUTED, Figure, draw
from hoofcohort.report.numbers import listing, of_things
from hoofcohort.report.sheets.flow import FILE_TITLES, rejected_rows
from hoofcohort.report.text.words import upper_first

WIDTH, COLUMN, GAP, LETTERS = 7.7, 2.4, 0.2, 38
LINE_HEIGHT, PADDING, ARROW = 0.155, 0.16, 0.3
PER_ROW = 3
Lines = list[str]


def flow_figure(ledger: Mapping[str, Any], counts: Mapping[str, int], models: Sequence[Mapping[str, Any]]) -> Figure:
    """Draw the flow: received, accepted, then one column per outcome with what was left out.

    Parameters
    ----------
    ledger : mapping
    counts : mapping
        Owners, yards, horses, feet and readings accepted.
    models : sequence of mapping
        Results by outcome, in the plan's order.
    """
    received = [_received(ledger, name) for name in ledger["files"]]
    accepted = ["Accepted readings", *_wrapped(_counts(counts), indent="", letters=100)]
    outcomes = [_outcome(model) for model in models]
    rows = [outcomes[place : place + PER_ROW] for place in range(0, len(outcomes), PER_ROW)]
    height = _tall(received) + ARROW + _height(accepted) + sum(_block(row) for row in rows) + GAP * (len(rows) - 1)

    def plot(axes: Axes) -> None:
        axes.set(xlim=(0, WIDTH), ylim=(-height - 0.05, 0.05))
        axes.axis("off")
        _draw(axes, received, accepted, rows)

    panel = draw("flow", f"Flow diagram: {_spoken(counts, models)}", (WIDTH, height + 0.1), plot)
    return Figure("flow", "Flow of rows received, accepted and analysed. Dashed: left out.", (panel,))


def _draw(axes: Axes, received: list[Lines], accepted: Lines, rows: list[list[tuple[Lines, Lines]]]) -> None:
    y, tall = 0.0, _tall(received)
    for place, lines in enumerate(received):
        _box(axes, _left(place, len(received)), y, lines, height=tall)
        _arrow(axes, _left(place, len(received)) + COLUMN / 2, y - tall)
    y -= tall + ARROW
    wide = 3 * COLUMN + 2 * GAP
    _box(axes, _left(0, 3), y, accepted, width=wide, strong=True)
    y -= _height(accepted)
    for number, row in enumerate(rows):
        lost = _tall([pair[0] for pair in row])
        used = _tall([pair[1] for pair in row])
        for place, (left_out, analysed) in enumerate(row):
            x = _left(place, len(row))
            if number == 0:
                _arrow(axes, x + COLUMN / 2, y)
            _box(axes, x, y - ARROW, left_out, height=lost, dashed=True)
            _arrow(axes, x + COLUMN / 2, y - ARROW - lost)
            _box(axes, x, y - 2 * ARROW - lost, analysed, height=used, strong=True)
        y -= _block(row) + GAP


def _block(row: list[tuple[Lines, Lines]]) -> float:
    return 2 * ARROW + _tall([pair[0] for pair in row]) + _tall([pair[1] for pair in row])


def _left(place: int, of: int) -> float:
    whole = of * COLUMN + (of - 1) * GAP
    return (WIDTH - whole) / 2 + place * (COLUMN + GAP)


def _height(lines: Lines) -> float:
    return len(lines) * LINE_HEIGHT + PADDING


def _tall(boxes: list[Lines]) -> float:
    return max(_height(lines) for lines in boxes)


def _box(
    axes: Axes, x: float, y: float, lines: Lines, *, width: float = COLUMN, height: float | None = None,
    strong: bool = False, dashed: bool = False,
) -> None:  # fmt: skip
    tall = height or _height(lines)
    style = "round,pad=0,rounding_size=0.05"
    axes.add_patch(
        FancyBboxPatch(
            (x, y - tall), width, tall, boxstyle=style, facecolor="none", linewidth=1.1 if strong else 0.8,
            edgecolor=INK if strong else MUTED if dashed else GRID, linestyle="--" if dashed else "-",
        )
    )  # fmt: skip
    for place, line in enumerate(lines):
        at = y - PADDING / 2 - (place + 0.5) * LINE_HEIGHT
        axes.text(x + 0.09, at, line, va="center", fontsize=7.6, fontweight="bold" if place == 0 else "normal")


def _arrow(axes: Axes, x: float, top: float) -> None:
    axes.annotate(
        "", (x, top - ARROW + 0.02), (x, top - 0.02), arrowprops={"arrowstyle": "-|>", "color": MUTED, "lw": 0.9}
    )


def _received(ledger: Mapping[str, Any], name: str) -> Lines:
    account = ledger["files"][name]
    lines = [
        upper_first(FILE_TITLES.get(name, name)),
        f"{of_things(account['rows_read'], 'row')} read, {account['accepted']} accepted",
    ]
    reasons = [row for row in rejected_rows(ledger) if row["file"] == name]
    lines.append(f"{account['rejected']} rejected{':' if reasons else ''}")
    for row in reasons:
        lines += _wrapped(f"{row['rows']}  {row['reason'].replace('_', ' ')}")
    return lines


def _outcome(model: Mapping[str, Any]) -> tuple[Lines, Lines]:
    lost = [(int(step["lost"]), step["reason"] or step["step"]) for step in model["flow"] if step["lost"]]
    left_out = [f"Left out: {of_things(sum(n for n, _ in lost), 'reading')}"]
    for number, reason in lost:
        left_out += _wrapped(f"{number}  {reason}")
    last = model["flow"][-1]
    analysed = [f"Analysed, {model['outcome']['role']} outcome:", *_wrapped(model["outcome"]["title"], indent="")]
    analysed += [of_things(last["readings"], "reading")]
    analysed += [f"{of_things(last['feet'], 'foot', 'feet')} of {of_things(last['horses'], 'horse')}"]
    analysed += [f"{of_things(last['yards'], 'yard')}, {of_things(last['owners'], 'owner')}"]
    return left_out, analysed


def _counts(counts: Mapping[str, int]) -> str:
    return (
        f"{of_things(counts['readings'], 'reading')} of {of_things(counts['feet'], 'foot', 'feet')} of "
        f"{of_things(counts['horses'], 'horse')} in {of_things(counts['yards'], 'yard')}, "
        f"with {of_things(counts['owners'], 'owner')}"
    )


def _wrapped(text: str, indent: str = "      ", letters: int = LETTERS) -> Lines:
    return textwrap.wrap(text, letters, subsequent_indent=indent)


def _spoken(counts: Mapping[str, int], models: Sequence[Mapping[str, Any]]) -> str:
    parts = [f"{_counts(counts)} accepted"]
    for model in models:
        parts.append(f"{of_things(model['flow'][-1]['readings'], 'reading')} analysed for {model['outcome']['title']}")
    return f"{listing(parts)}. The tables below give the same numbers."
