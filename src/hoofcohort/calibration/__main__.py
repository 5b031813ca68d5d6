"""Run the calibration: ``python -m hoofcohort.calibration cell NAME ...`` and then ``... table PARTS ...``."""

from __future__ import annotations

import argparse
import os
import platform
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path

from hoofcohort.cli import THREADS


def main(arguments: Sequence[str] | None = None) -> None:
    """Count one cell, or join the cells to the table and draw the figure."""
    parser = argparse.ArgumentParser(prog="python -m hoofcohort.calibration", description=__doc__)
    parts = parser.add_subparsers(dest="part", required=True)
    cell = parts.add_parser("cell", help="count one cell")
    cell.add_argument("name", help="horses-shape-errors-spread, for instance 12-ragged-normal-clear")
    cell.add_argument("--designs", type=int, help="how many designs to draw, of 50 cohorts each; default: the cell's")
    cell.add_argument("--out", type=Path, required=True, help="CSV file of the cell's rows")
    table = parts.add_parser("table", help="join all cells")
    table.add_argument("cells", type=Path, nargs="+", help="CSV files of all cells")
    table.add_argument("--out", type=Path, required=True, help="CSV file of the table")
    table.add_argument("--figure", type=Path, required=True, help="SVG file of the figure")
    given = parser.parse_args(arguments)
    for name in THREADS:
        os.environ.setdefault(name, "1")
    if given.part == "cell":
        _cell(given.name, given.designs, given.out)
    else:
        _table(given.cells, given.out, given.figure)


def _cell(name: str, designs: int | None, out: Path) -> None:
    from hoofcohort.calibration.cells import Cell
    from hoofcohort.calibration.coverage import cover
    from hoofcohort.files import write_text_atomic

    cell = Cell.from_name(name)
    rows = cover(cell, designs or cell.designs)
    write_text_atomic(out, rows.to_csv(index=False, lineterminator="\n"))


def _table(cells: Sequence[Path], out: Path, figure: Path) -> None:
    from hoofcohort.calibration.figure import draw_figure
    from hoofcohort.calibration.table import gather, outside

    versions = {"hoofcohort": version("hoofcohort"), "python": platform.python_version()}
    versions |= {name: version(name) for name in ("numpy", "scipy")}
    whole = gather(cells, out, versions)
    draw_figure(whole, figure)
    far = outside(whole)
    print(f"Kenward-Roger outside 94% to 96%: {len(far)} of {(whole.method == 'Kenward-Roger').sum()} rows")
    if len(far):
        print(far.drop(columns=["method", "given", "mean_width"]).to_string(index=False))


if __name__ == "__main__":
    main()
