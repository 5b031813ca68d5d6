"""``hoofcohort report``: write the study report."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "--run-dir", required=True, metavar="DIR", help="the run's folder, e.g. reports/my-study, with all its results"
    )
    parser.add_argument("--out", metavar="FILE.html", help="the page (default: report.html in the run's folder)")


def run(args: argparse.Namespace) -> None:
    """Read the run's folder, write page, figures, tables and manifest."""
    import sys
    from pathlib import Path

    from hoofcohort.errors import InputError
    from hoofcohort.report.build import write_report

    folder = Path(args.run_dir)
    page = Path(args.out) if args.out else folder / "report.html"
    try:
        written = write_report(folder, page)
    except OSError as error:
        raise InputError(
            f"{error.filename or page}: cannot be written ({error.strerror}); name another file with --out, or make "
            "the run's folder writable"
        ) from error
    print(f"{page}: written, with {len(written) - 1} figures, tables and other files beside it", file=sys.stderr)
