"""``hoofcohort model``: fit a mixed model to any CSV file."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from hoofcohort.errors import InputError

if TYPE_CHECKING:
    from hoofcohort.models import Fit


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    add = parser.add_argument
    add("data", metavar="DATA.csv", help="comma-separated UTF-8 file with a header; an empty cell or NA is missing")
    add("--outcome", required=True, metavar="Y", help="numeric column to explain")
    add("--terms", nargs="*", default=[], metavar="TERM", help="columns, or interactions written a:b")
    add("--levels", nargs="+", required=True, metavar="LEVEL", help="nested groupings, outermost first")
    add(
        "--also",
        nargs="+",
        default=[],
        metavar="LEVEL:COLUMN",
        help="groupings inside a level, e.g. horse:visit",
    )
    add(
        "--crossed",
        nargs="+",
        default=[],
        metavar="FACTOR",
        help="groupings whose groups span the outermost level, e.g. farrier",
    )
    add(
        "--categorical",
        nargs="+",
        default=[],
        metavar="COLUMN",
        help="number columns to treat as words",
    )
    add("--no-intercept", action="store_true", help="leave the intercept out")
    add("--method", choices=["reml", "ml"], default="reml", help="likelihood to maximise (default: reml)")
    add(
        "--df",
        choices=["kenward-roger", "satterthwaite"],
        help="degrees of freedom (default: kenward-roger with reml, satterthwaite with ml)",
    )
    add(
        "--means",
        nargs="+",
        default=[],
        metavar="FACTOR",
        help="factors whose marginal means to give",
    )
    add("--confidence", type=float, default=0.95, help="level of the intervals (default: 0.95)")
    add(
        "--profile",
        action="store_true",
        help="give profile-likelihood intervals of variances, ICC and, with --method ml, coefficients",
    )
    add(
        "--bootstrap",
        type=int,
        metavar="N",
        help="refit N outcomes simulated under the model: intervals, and tests of every level and term",
    )
    add("--seed", type=int, default=1, metavar="S", help="seed of the bootstrap (default: 1)")
    add("--out", required=True, metavar="fit.json", help="file to write")


def run(args: argparse.Namespace) -> None:
    """Read, fit, write the record and print a summary."""
    from hoofcohort.files import write_json_atomic
    from hoofcohort.models.profile import profile_intervals
    from hoofcohort.models.record import with_bootstrap, with_profile
    from hoofcohort.models.summary import summary_lines

    fit, messages = fit_from(args)
    record = fit.to_dict()
    if args.profile:
        record = with_profile(record, profile_intervals(fit))
    if args.bootstrap is not None:
        record = with_bootstrap(record, fit, args.bootstrap, args.seed)
    record["messages"] = messages + record["messages"]
    write_json_atomic(args.out, record)
    print("\n".join(summary_lines(record, args.outcome)))


def fit_from(args: argparse.Namespace) -> tuple[Fit, list[str]]:
    """Return the fit that the arguments ask for, and what reading the file gave to say."""
    from hoofcohort.models import build_design, fit_mixed_model
    from hoofcohort.models.csv_data import read_model_data

    for option in ("levels", "also", "crossed", "means"):
        names = getattr(args, option)
        if len(set(names)) < len(names):
            raise InputError(f"--{option} names something twice: {' '.join(names)}")
    data = read_model_data(args.data, args.outcome, args.terms, args.levels, args.also, args.categorical, args.crossed)
    design = build_design(data.variables, args.terms, not args.no_intercept, rows=len(data.outcome))
    fit = fit_mixed_model(
        data.outcome, design, data.grouping, args.method, args.df, args.means, args.confidence, data.rows_dropped
    )
    return fit, data.messages
