"""The trade's cut-offs: read from a file in which each carries its source, and counted against, never used to define.

Differences stay continuous in the models. What is counted here only says how many readings and horses lie beyond a
limit that somebody has used, and how many lie too close to it to tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field

from hoofcohort.errors import PlanError
from hoofcohort.plan import Name, Part, described
from hoofcohort.planning import vocabulary
from hoofcohort.planning.faults import Fault, not_allowed
from hoofcohort.planning.structure import overlaps, structure
from hoofcohort.planning.yaml_file import read_yaml

if TYPE_CHECKING:
    import pandas as pd

FEET = ("LF", "RF", "LH", "RH")
STAND_INS = {
    "cutoffs": [],
    "comparison": "<",
    "value": 0.0,
    "status": "study-defined",
}
NO_SDC = "none configured"
DECIMALS = 9


class Cutoff(Part):
    """One cut-off."""

    index: Name = described("The index or measurement it is about.")
    title: Name = described("What the trade says of a reading beyond it.")
    comparison: Literal["<", "<=", ">", ">="] = described("How a reading beyond it compares with `value`.")
    value: float = described("The limit.", unit="the index's unit")
    absolute: bool = described("Compare the index without its sign.", default=False)
    feet: list[Literal["LF", "RF", "LH", "RH"]] = described("The feet it applies to.", default=list(FEET))
    smallest_detectable_change: Annotated[float, Field(gt=0)] | None = described(
        "The smallest change of one reading that measurement error does not explain, by the study's own repeated "
        "readings. Readings nearer to `value` than this are counted as the grey zone. Left out: no grey zone.",
        unit="the index's unit",
        default=None,
    )
    source: Name = described("Who set it.")
    status: Literal["published", "from memory, not verified", "common practice, no source", "study-defined"] = (
        described("How far the source has been followed up.")
    )

    @property
    def rule(self) -> str:
        """The rule in words, e.g. ``|heel_imbalance_mm| >= 5 mm, fore feet``; the unit is the index's."""
        name = f"|{self.index}|" if self.absolute else self.index
        unit = vocabulary.units().get(self.index, "")
        feet = "" if set(self.feet) == set(FEET) else f", {' '.join(self.feet)} only"
        return f"{name} {self.comparison} {self.value:.6g}{f' {unit}' if unit not in ('', 'ratio') else ''}{feet}"


class Cutoffs(Part):
    """A file of cut-offs."""

    cutoffs: list[Cutoff] = described("The cut-offs, in the order in which the report lists them.")


def load_cutoffs(path: str | Path) -> list[Cutoff]:
    """Read a file of cut-offs.

    Raises
    ------
    PlanError
        With one line per fault, all of them.
    """
    document = read_yaml(path)
    read, faults = structure(Cutoffs, document.value, STAND_INS)
    if read is not None:
        names = vocabulary.outcomes()
        strange = [
            Fault(("cutoffs", place, "index"), not_allowed(cutoff.index, names, "measurements and indices"))
            for place, cutoff in enumerate(read.cutoffs)
            if cutoff.index not in names
        ]
        faults += [fault for fault in strange if not overlaps(fault, faults)]
    faults += document.duplicates
    if read is None or faults:
        raise PlanError("\n".join(document.describe(faults)))
    return read.cutoffs


def beyond_cutoffs(readings: pd.DataFrame, cutoffs: Sequence[Cutoff]) -> pd.DataFrame:
    """Count the readings and horses beyond each cut-off.

    Parameters
    ----------
    readings : DataFrame
        One row per reading, with ``horse_id``, ``foot`` and the indices; a column that is absent is missing throughout.
    cutoffs : sequence of Cutoff

    Returns
    -------
    DataFrame
        One row per cut-off, in their order: ``index``, ``title``, ``rule`` (in words, with the unit), ``source``,
        ``status``, ``readings_with_value``, ``readings_beyond``, ``horses_with_value``, ``horses_beyond`` (at least one
        reading beyond), ``smallest_detectable_change`` (in the index's unit as text, or 'none configured') and
        ``readings_in_grey_zone`` (Int64; missing when none is configured). A missing value counts nowhere.
    """
    import pandas as pd

    rows = [_count(readings, cutoff) for cutoff in cutoffs]
    table = pd.DataFrame(rows, columns=list(COLUMNS))
    return table.astype({"readings_in_grey_zone": "Int64"})


COLUMNS = (
    "index",
    "title",
    "rule",
    "source",
    "status",
    "readings_with_value",
    "readings_beyond",
    "horses_with_value",
    "horses_beyond",
    "smallest_detectable_change",
    "readings_in_grey_zone",
)


def _count(readings: pd.DataFrame, cutoff: Cutoff) -> tuple:
    known = readings[readings["foot"].isin(cutoff.feet)]
    known = known[known[cutoff.index].notna()] if cutoff.index in readings else known.iloc[:0]
    value = known[cutoff.index].astype("float64") if len(known) else known["horse_id"].astype("float64")
    # 50.3 - 45.3 is a little below 5 in binary: compare what the observer would have worked out by hand.
    value = (value.abs() if cutoff.absolute else value).round(DECIMALS)
    beyond = {"<": value.lt, "<=": value.le, ">": value.gt, ">=": value.ge}[cutoff.comparison](cutoff.value)
    change = cutoff.smallest_detectable_change
    return (
        cutoff.index,
        cutoff.title,
        cutoff.rule,
        cutoff.source,
        cutoff.status,
        len(known),
        int(beyond.sum()),
        known["horse_id"].nunique(),
        known.loc[beyond, "horse_id"].nunique(),
        NO_SDC if change is None else f"{change:g}",
        None if change is None else int((value - cutoff.value).abs().lt(change).sum()),
    )
