"""The command line: one subcommand per module in ``hoofcohort.commands``, imported only when it is asked for."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Any

from hoofcohort import __version__
from hoofcohort.errors import HoofcohortError
from hoofcohort.files import without_steering

COMMANDS = {
    "simulate": "write an invented cohort, its mistakes and its truth",
    "dictionary": "write the data dictionary of the three tables",
    "templates": "write templates to fill in, and the tables' machine-readable description",
    "check-plan": "validate an analysis plan and write it out whole",
    "draft-mapping": "guess what the columns of a member's file are, for a person to check",
    "check": "say what the study would say about a file, before it is sent",
    "inbox": "take in what members sent, and write each of them a letter",
    "inbox-file": "read one member's file and keep what is made of it",
    "inbox-gather": "take in what members sent from what was kept of each file",
    "pseudonymise": "put pseudonyms in place of what names somebody",
    "release-check": "search what is to be published for anything that names somebody",
    "intake": "accept or reject every row of the three CSV files",
    "derive": "compute the indices of every accepted reading",
    "fit-outcome": "fit the models of one outcome of a plan",
    "report": "write the study report",
    "model": "fit a mixed model to any CSV file",
    "statistics-make": "sum a table up, so that it can be analysed with others without its rows",
    "statistics-merge": "make one statistics file of several",
    "statistics-fit": "fit the model of a statistics file",
}

THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")


class _Printable:
    """A stream to which signs that steer a terminal go as question marks: they come from files and their names."""

    def __init__(self, stream: Any) -> None:
        self.stream = stream

    def write(self, text: str) -> int:
        return self.stream.write(without_steering(text))

    def __getattr__(self, name: str) -> Any:
        return getattr(self.stream, name)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one subcommand and return its exit status: 0 done, 2 the user has something to put right."""
    for name in THREADS:  # many small matrices: one thread is fastest, and gives the same last digit everywhere
        os.environ.setdefault(name, "1")
    argv = list(sys.argv[1:] if argv is None else argv)
    parser = argparse.ArgumentParser(prog="hoofcohort", description="Analyse a cohort of horses' feet.")
    parser.add_argument("--version", action="version", version=f"hoofcohort {__version__}")
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    asked = next((word for word in argv if not word.startswith("-")), None)
    for name, summary in COMMANDS.items():
        sub = subparsers.add_parser(name, help=summary, description=summary.capitalize() + ".")
        if name == asked:
            module = import_module("hoofcohort.commands." + name.replace("-", "_"))
            module.register(sub)
            sub.set_defaults(run=module.run)
    args = parser.parse_args(argv)
    sys.stdout, sys.stderr, streams = _Printable(sys.stdout), _Printable(sys.stderr), (sys.stdout, sys.stderr)
    try:
        return args.run(args) or 0
    except HoofcohortError as error:
        print(f"hoofcohort {args.command}: {error}", file=sys.stderr)
    except OSError as error:
        place = error.filename2 or error.filename
        print(f"hoofcohort {args.command}: {place}: cannot be used ({error.strerror}); name another", file=sys.stderr)
    finally:
        sys.stdout, sys.stderr = streams
    return 2
