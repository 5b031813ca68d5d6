"""Write ``config/mapping.md``: every key of a mapping, and what the inbox holds members' values to, with sources."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from hoofcohort.indices.catalogue import CATALOGUE
from hoofcohort.mapping import limits, unit_of_column
from hoofcohort.mapping.index_limits import INDEX_LIMITS
from hoofcohort.mapping.mapping import Mapping
from hoofcohort.mapping.reasons import SENTENCES, SEVERITY
from hoofcohort.mapping.units import FACTORS, YEAR_OF_DATE
from hoofcohort.planning.reference import group_tables
from hoofcohort.tables import TABLES
from hoofcohort.tables.declare import BROAD, DATES_POSSIBLE
from hoofcohort.tables.dictionary import limits_text

_OWN = "the project's own choice, no source"
HEAD = """\
# Mappings, and what the inbox looks at

<!-- Written by `python -m hoofcohort.mapping.reference > config/mapping.md`; edit its modules instead. -->

A mapping says what the headers, units and words of one source mean. It lies beside the files as `mapping.yaml`, or as
`<file>.mapping.yaml` for one of them (such as `feet.csv.mapping.yaml` or `feet.mapping.yaml`), and holds in later
rounds too. `hoofcohort draft-mapping FILE --out mapping.yaml` drafts one, with how sure each guess is and a sample, for
a person to check; of a workbook with several sheets one for each, with `--sheet NAME`, whose name is to be
`<file>.<sheet>.mapping.yaml`. It is read as data only; unknown and repeated keys, and a mapping that does not fit its
file, are errors that say where.

```yaml
table: feet
columns:
  Horse: {to: horse_id}
  Leg: {to: foot, words: {near fore: LF, off fore: RF, near hind: LH, off hind: RH}}
  Seen on: {to: visit_date, date_order: DMY}
  Angle: {to: toe_angle_deg, decimal: ","}
  Toe: {to: toe_length_mm, unit: cm}
constants: {observer_id: A, method: gauge}
ignore: [Remarks]
```

A column without a header is called `column 3`, by its place; of several with one header each is `header (column 3)`.
"""


def markdown() -> str:
    """Return the text of ``config/mapping.md``."""
    return "\n".join(
        [
            HEAD,
            "## The keys\n",
            *group_tables(Mapping, ()),
            "## Units\n",
            *_table(
                ("our unit", "can be mapped from"), ((ours, ", ".join(theirs)) for ours, theirs in FACTORS.items())
            ),
            "Of hands, what stands after the point are inches: 15.2 is 15 hands and 2 inches. A year can be mapped "
            f"from a date, whose year is then taken: `birth_year` with `unit: {YEAR_OF_DATE}`.\n",
            "## Limits\n",
            "Outside what is possible a row comes back; outside what is usual it is kept, with a warning.\n",
            "### Columns\n",
            *_table(("column", "possible", "usual", "source"), _columns()),
            f"Dates are possible from {DATES_POSSIBLE[0]} to {DATES_POSSIBLE[1]} ({BROAD}), and no later than the day "
            "given as `--as-of`. Where nothing else decides, dates such as 01.11.2025 are read as day, month, year "
            "(common practice, no source) and told of.\n",
            "### A column's unit, where the mapping names none\n",
            *_units(),
            "### Fore and hind feet, and size\n",
            *_table(("column", "of", "usual", "source"), _conditional()),
            "### Indices\n",
            *_table(("index", "of", "possible", "usual", "source"), _indices()),
            "### Beside the horse's other readings\n",
            *_within(),
            "## What a letter can say\n",
            *_table(("what", "severity"), ((SENTENCES[code], SEVERITY[code]) for code in SENTENCES)),
        ]
    )


def _table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> Iterator[str]:
    names = list(heads)
    yield f"| {' | '.join(names)} |\n|{'---|' * len(names)}"
    for row in rows:
        yield "| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |"
    yield ""


def _columns() -> Iterator[tuple[str, ...]]:
    for table in TABLES.values():
        for column in table.columns:
            if column.possible or column.plausible:
                possible = limits_text(column.possible, column.unit) if column.possible else ""
                usual = limits_text(column.plausible, column.unit) if column.plausible else ""
                yield f"`{column.name}`", possible, usual, column.source


def _conditional() -> Iterator[tuple[str, ...]]:
    for foot in limits.FOOT_LIMITS:
        yield f"`{foot.column}`", f"{foot.end} feet", f"{foot.low:.3g} to {foot.high:.3g} deg", foot.source
    for size in limits.SIZE_LIMITS:
        mass = f"horses from {size.lightest:g} to below {size.heaviest:g} kg"
        yield f"`{size.column}`", mass, f"{size.low:g} to {size.high:g} mm", size.source


def _indices() -> Iterator[tuple[str, ...]]:
    for relation in TABLES["feet"].relations:
        possible = limits_text(relation.possible, relation.unit) if relation.possible else ""
        yield relation.name, "any foot", possible, limits_text(relation.plausible, relation.unit), relation.source
    for limit in INDEX_LIMITS:
        unit = CATALOGUE[limit.index].unit
        unit = "" if unit in ("ratio", "points") else unit
        possible = limits_text(limit.possible, unit) if limit.possible else ""
        of = f"{limit.end} feet" if limit.end else "any foot"
        yield f"`{limit.index}`", of, possible, limits_text(limit.plausible, unit), limit.source


def _units() -> Iterator[str]:
    yield (
        f"- Lengths are doubted when, of at least {unit_of_column.COLUMN}, the median is at most "
        f"{unit_of_column.SMALL:g} and the largest at most {unit_of_column.LARGEST_SMALL:g} times the middle of what "
        f"is usual ({_OWN})."
    )
    low, high = unit_of_column.USUAL_INTERVAL
    yield (
        f"- Trim intervals of up to {unit_of_column.SHORTEST_INTERVAL} days are doubted when they would be {low} to "
        f"{high} days in weeks or months (common practice, no source)."
    )
    (ponies, pony), (_, horse) = unit_of_column.HEAVY
    yield (
        f"- A mass may be in pounds when, divided by the cube of the height in m, it is more than {pony:g} kg below "
        f"{ponies:g} cm or {horse:g} kg from there on; a whole column when the median of the latter is more than "
        f"{unit_of_column.HEAVY_COLUMN:g} kg, or, without heights, that of the masses at least "
        f"{unit_of_column.HEAVY_ALONE_KG:g} kg (from memory, {_OWN})."
    )
    yield (
        f"- A length is doubted by itself when it is at least {unit_of_column.LONE_GAP} times smaller than the "
        f"smallest other of at least {unit_of_column.LONE_COLUMN} in its column, and within them when ten times as "
        f"long; at most {unit_of_column.LONE_SHARE:.0%} of a column are, or one ({_OWN})."
    )
    yield "- A column's unit is also doubted when most of its numbers are not usual, but would be in another unit.\n"


def _within() -> Iterator[str]:
    floors = limits.SMALLEST_DEVIATION
    yield (
        f"- An outlier lies more than {limits.OUTLIER_DEVIATIONS:g} deviations from the median of its foot's readings "
        f"by the same method. A deviation is {limits.MAD_TO_SD} times the median absolute deviation of the foot's "
        f"readings when there are more than {limits.OUTLIER_OTHERS}, else of those of all the horse's feet (at least "
        f"{limits.FEW_READINGS} of the foot and {limits.FEW_OF_THE_HORSE} of the horse), but at least "
        f"{floors['deg']:g} deg, or {floors['mm']:.0%} of the median and {limits.SHORTEST_DEVIATION_MM:g} mm. Five, "
        "because visits months apart are compared; Leys et al., J Exp Soc Psychol 2013;49:764-766, call 3 very "
        "conservative (from memory)."
    )
    yield (
        "- Left and right look exchanged when the differences of at least two measures in which the pair is uneven "
        f"(three, with fewer than {limits.SIDES_VISITS} visits) lie more than {limits.SIDES_SUPPORT:g} times nearer to "
        "those of the other visits when turned round. With two visits the later is named beside the earlier. A pair is "
        f"uneven from {limits.SIDES_UNEVEN * limits.SIDE_SCALE['deg']:g} deg (Wiggers, PLoS ONE 2015;10:e0114836) or "
        f"{limits.SIDES_UNEVEN * limits.SIDE_SCALE['mm']:g} mm ({_OWN}); medial and lateral look exchanged by the same "
        "rule, one measure being enough."
    )
    yield (
        f"- Toe and heel angle look exchanged when exchanging them brings both together more than "
        f"{limits.EXCHANGED_GAIN:g} deg, and more than {limits.EXCHANGED_TIMES} times, nearer to the medians of at "
        f"least {limits.FEW_READINGS} readings of the foot ({_OWN})."
    )
    yield (
        f"- A decimal point looks slipped when an outlier, with its point one place further, comes within "
        f"{limits.SLIPPED_SHARE:.0%} of the foot's median ({_OWN}). Beyond what is usual for the column it does when "
        "the value would then be usual."
    )
    yield (
        "- Day and month look exchanged when the date so turned is one on which more of the horse's other feet were "
        f"measured, and none that were measured on the date as it stands ({_OWN})."
    )
    yield (
        "- In invented cohorts without mistakes (tests/inbox/test_second_look.py), fewer than one measurement in 5,000 "
        "is called an outlier, and no feet are called exchanged."
    )
    yield "- These are compared across all of a horse's files and rounds, and none of them ever takes a row out.\n"


if __name__ == "__main__":
    print(markdown(), end="")
