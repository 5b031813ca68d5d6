"""``hoofcohort fit-outcome``: fit the models of one outcome of a plan."""

from __future__ import annotations

import argparse

EARLIER = "'hoofcohort intake' and 'hoofcohort derive' first"


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    add = parser.add_argument
    add("--plan", required=True, metavar="PLAN.yaml", help="the study's plan (or the plan.json of a run)")
    add("--outcome", required=True, metavar="NAME", help="one of the plan's outcomes")
    add("--readings", required=True, metavar="FILE.parquet", help="readings with their indices")
    add("--horses", required=True, metavar="FILE.parquet", help="accepted horses")
    add("--management", required=True, metavar="FILE.parquet", help="accepted management intervals")
    add("--out", required=True, metavar="FILE.json", help="models, effects, checks and messages")
    add("--analysis-out", required=True, metavar="FILE.parquet", help="the rows used, with fitted values")
    add("--effects-out", required=True, metavar="FILE.parquet", help="predicted effects of yards, horses, feet, visits")


def run(args: argparse.Namespace) -> None:
    """Read the plan and the tables, fit, and write all three files or none."""
    import sys
    from functools import partial

    from hoofcohort.files import read_parquet, write_files_atomic, write_json_atomic, write_parquet_atomic
    from hoofcohort.plan import load_plan
    from hoofcohort.study.outcome import study_outcome

    settings = load_plan(args.plan).for_outcome(args.outcome)
    tables = [read_parquet(path, EARLIER) for path in (args.readings, args.horses, args.management)]
    print(f"{settings.name}: fitting on {len(tables[0])} readings", file=sys.stderr)
    result = study_outcome(settings, *tables)
    write_files_atomic(
        {
            args.out: partial(write_json_atomic, value=result.record),
            args.analysis_out: partial(write_parquet_atomic, frame=result.analysis),
            args.effects_out: partial(write_parquet_atomic, frame=result.effects),
        }
    )
    reason, used = result.record.get("not_analysed"), result.record["flow"][-1]
    said = f"not analysed: {reason}" if reason else f"{used['readings']} readings of {used['horses']} horses used"
    print(f"{settings.name}: {said}", file=sys.stderr)
