"""``hoofcohort statistics-make``: sum a table up so that it can be analysed with others and no row leaves the house."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from hoofcohort.errors import InputError

if TYPE_CHECKING:
    from hoofcohort.models.specification import Specification
    from hoofcohort.models.table_source import TableSource


def register(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    add = parser.add_argument
    add("data", metavar="DATA", help="CSV or Parquet file; more than a million rows must be sorted by the first level")
    add("--like", metavar="FILE", help="statistics or specification file to be about the same as; leaves out the rest")
    add("--model", metavar="MODEL.json", help="an outcome's model of a run, DATA being its analysis table")
    add("--outcome", metavar="Y", help="numeric column to explain")
    add("--terms", nargs="*", default=[], metavar="TERM", help="columns, or interactions written a:b")
    add("--levels", nargs="+", default=[], metavar="LEVEL", help="nested groupings, outermost first")
    add("--also", nargs="+", default=[], metavar="LEVEL:COLUMN", help="groupings inside a level, e.g. horse:visit")
    add("--categorical", nargs="+", default=[], metavar="COLUMN", help="number columns to treat as words")
    add(
        "--words", nargs="+", default=[], metavar="COLUMN=WORD,WORD",
        help="words agreed beforehand, the base first, among them those that DATA does not hold",
    )  # fmt: skip
    add("--no-intercept", action="store_true", help="leave the intercept out")
    add("--animal", metavar="LEVEL", help="level to count in every cell (default: horse, else the first)")
    add("--minimum", type=int, default=5, metavar="N", help="animals on which all must rest; 1: no check (default: 5)")
    add("--leave-out-small-cells", action="store_true", help="leave out who would be given away, and count them")
    add(
        "--part",
        default="1/1",
        metavar="K/N",
        help="summarise one of N parts only, cut between groups of the first level",
    )
    add(
        "--only-specification",
        action="store_true",
        help="write what the statistics would be about, for others to agree",
    )
    add("--out", required=True, metavar="FILE.json", help="file to write")


def run(args: argparse.Namespace) -> None:
    """Find out what is asked, go through the rows, write the statistics."""
    import sys
    from dataclasses import replace

    from hoofcohort.files import write_text_atomic
    from hoofcohort.models.statistics_file import specification_text, statistics_text
    from hoofcohort.models.streaming import summarise

    part = _part(args.part)
    if args.minimum < 1:
        raise InputError(f"--minimum is a whole number from 1 up, found {args.minimum}")
    specification = _specification(args)
    if args.only_specification:
        write_text_atomic(args.out, specification_text(specification))
        return
    source = _source(args.data, specification)
    try:
        found = summarise(source.chunks, specification, args.minimum, args.leave_out_small_cells, part)
    except InputError as error:
        raise InputError(f"{args.data}: {str(error).removeprefix(f'{args.data}: ')}") from error
    found = replace(found, rows_dropped=source.rows_dropped if part[0] == 1 else 0)
    write_text_atomic(args.out, statistics_text(found))
    animals = f"{specification.animal}s"
    print(
        f"{found.rows} rows of {found.animals} {animals} in {len(found.counted())} cells, the smallest of "
        f"{found.counted().min()} {animals}; {found.rows_dropped} rows left out for a missing value, "
        f"{found.left_out} {animals} for a small cell",
        file=sys.stderr,
    )


def _source(path: str, specification: Specification) -> TableSource:
    from hoofcohort.models.table_source import TableSource

    return TableSource(path, specification.columns, specification.labels[specification.levels[0]])


def _specification(args: argparse.Namespace) -> Specification:
    """Return the specification: another file's, a run's, or what the options say."""
    from hoofcohort.commands.statistics_merge import read_text
    from hoofcohort.models.statistics_file import read_specification

    given = [name for name in ("like", "model", "outcome") if getattr(args, name)]
    if len(given) != 1:
        raise InputError("say what the statistics are about by one of --like, --model, or --outcome and --levels")
    if args.like:
        try:
            return read_specification(read_text(args.like))
        except InputError as error:
            raise InputError(f"{args.like}: {str(error).removeprefix(f'{args.like}: ')}") from error
    if args.model:
        from hoofcohort.study.pooling import study_specification

        return study_specification(args.model, args.data)
    return _from_options(args)


def _from_options(args: argparse.Namespace) -> Specification:
    """Return the specification that options ask for, words, blocks and centre found in the data."""
    from hoofcohort.models.specify import specify
    from hoofcohort.models.table_source import TableSource, find_codings

    if not args.levels:
        raise InputError("--levels: name the nested groupings, outermost first")
    for option in ("levels", "also"):
        names = getattr(args, option)
        if len(set(names)) < len(names):
            raise InputError(f"--{option} names something twice: {' '.join(names)}")
    variables = list(dict.fromkeys(part for term in args.terms for part in term.split(":")))
    inner = [name.split(":", 1)[-1] for name in args.also]
    used = list(dict.fromkeys([args.outcome, *variables, *args.levels, *inner]))
    source = TableSource(args.data, used, args.levels[:1])
    codings = find_codings(source, variables, args.categorical, _words(args.words))
    rows = next((chunk for chunk in source.chunks() if len(chunk)), None)
    if rows is None:
        raise InputError(f"{args.data}: no row has a value in every used column ({', '.join(used)})")
    levels = {name: (name,) for name in args.levels}
    also = {name: (column,) for name, column in zip(args.also, inner, strict=True)}
    return specify(rows, args.outcome, args.terms, codings, levels, also, not args.no_intercept, args.animal)


def _words(options: list[str]) -> dict[str, tuple[str, ...]]:
    """Read ``column=word,word``."""
    found = {}
    for option in options:
        column, sign, words = option.partition("=")
        listed = tuple(word.strip() for word in words.split(","))
        if not sign or not all(listed) or len(set(listed)) < len(listed):
            raise InputError(f"--words: found '{option}'; write COLUMN=WORD,WORD with every word once, the base first")
        found[column] = listed
    return found


def _part(text: str) -> tuple[int, int]:
    """Read ``k/n``, or ``k-of-n`` as Snakemake names parts."""
    try:
        part, parts = (int(number) for number in text.replace("-of-", "/").split("/"))
    except ValueError:
        part = parts = 0
    if not 1 <= part <= parts:
        raise InputError(f"--part: found '{text}'; write K/N with K from 1 to N, e.g. 2/8")
    return part, parts
