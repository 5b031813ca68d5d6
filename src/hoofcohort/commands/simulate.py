"""``hoofcohort simulate``: write an invented cohort, its mistakes and its truth."""

from __future__ import annotations

import argparse


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    add = parser.add_argument
    add("--out", required=True, metavar="DIR", help="folder for horses.csv, management.csv, feet.csv and truth.json")
    add("--horses", type=int, default=64, metavar="N", help="number of horses (default: 64)")
    add("--yards", type=int, metavar="N", help="number of yards (default: 12 for every 64 horses)")
    add("--visits", type=int, default=3, metavar="N", help="visits per horse, 12 weeks apart (default: 3)")
    add(
        "--seed", type=int, default=20260301, metavar="N", help="the same seed gives the same files (default: 20260301)"
    )
    add("--no-mistakes", action="store_true", help="plant no mistakes")


def run(args: argparse.Namespace) -> None:
    """Simulate, then write the four files."""
    import sys
    from pathlib import Path

    from hoofcohort.errors import InputError
    from hoofcohort.files import write_json_atomic, write_text_atomic
    from hoofcohort.simulate import simulate_cohort
    from hoofcohort.simulate.cohort import FILES

    cohort = simulate_cohort(args.horses, args.yards, args.visits, args.seed, mistakes=not args.no_mistakes)
    texts = {file: cohort.csv_text(file) for file in FILES}
    folder = Path(args.out)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(f"--out {folder}: cannot make this folder ({error.strerror}); name another one") from error
    for file, text in texts.items():
        write_text_atomic(folder / file, text)
    write_json_atomic(folder / "truth.json", cohort.truth)
    rows = ", ".join(f"{count['written']} rows in {file}" for file, count in cohort.truth["rows"].items())
    print(f"{folder}: {rows}; {len(cohort.planted)} planted; all of it invented", file=sys.stderr)
