"""``hoofcohort check-plan``: validate an analysis plan and write it out whole."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("plan", metavar="PLAN.yaml", help="the analysis plan")
    parser.add_argument(
        "--out", required=True, metavar="FILE.json", help="where to write the plan, every default spelt out"
    )


def run(args: argparse.Namespace) -> None:
    """Report all faults of the plan and its files at once, or write the plan."""
    from hoofcohort.files import write_json_atomic
    from hoofcohort.inbox.configured import INBOX_TABLES
    from hoofcohort.plan import load_plan

    plan = load_plan(args.plan, check_files=True, made=INBOX_TABLES)
    write_json_atomic(args.out, plan.model_dump(mode="json"))
