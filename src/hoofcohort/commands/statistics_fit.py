"""``hoofcohort statistics-fit``: fit the model of a statistics file."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    add = parser.add_argument
    add("statistics", metavar="FILE.json", help="statistics file, merged or not")
    add("--method", choices=["reml", "ml"], default="reml", help="likelihood to maximise (default: reml)")
    add(
        "--df",
        choices=["kenward-roger", "satterthwaite"],
        help="degrees of freedom (default: kenward-roger with reml, satterthwaite with ml)",
    )
    add("--means", nargs="+", default=[], metavar="FACTOR", help="factors whose marginal means to give")
    add("--confidence", type=float, default=0.95, help="level of the intervals (default: 0.95)")
    add("--profile", action="store_true", help="give profile-likelihood intervals, as 'hoofcohort model' does")
    add("--out", required=True, metavar="fit.json", help="file to write")


def run(args: argparse.Namespace) -> None:
    """Read, fit, write the record and print a summary."""
    from hoofcohort.commands.statistics_merge import read_file
    from hoofcohort.files import write_json_atomic
    from hoofcohort.models.profile import profile_intervals
    from hoofcohort.models.record import with_profile
    from hoofcohort.models.rowless import fit_statistics
    from hoofcohort.models.solution import Choices
    from hoofcohort.models.summary import summary_lines

    portable = read_file(args.statistics)
    choices = Choices(args.method, args.df, tuple(args.means), args.confidence)
    fit = fit_statistics(portable, choices)
    record = with_profile(fit.to_dict(), profile_intervals(fit)) if args.profile else fit.to_dict()
    animals = f"{portable.specification.animal}s"
    parts = len(portable.parts)
    record["messages"] = [
        f"Fitted from statistics, without rows: {parts} part{'s' if parts > 1 else ''}, {portable.animals} {animals}, "
        f"no cell of fewer than {portable.counted().min()}; {portable.left_out} {animals} left out for a small cell.",
        *record["messages"],
    ]
    write_json_atomic(args.out, record)
    print("\n".join(summary_lines(record, portable.specification.outcome)))
