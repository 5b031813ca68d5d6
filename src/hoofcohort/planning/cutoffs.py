"""The trade's cut-offs: read from a file in which each carries its source."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from hoofcohort.errors import PlanError
from hoofcohort.plan import Name, Part, described
from hoofcohort.planning import vocabulary
from hoofcohort.planning.faults import Fault, not_allowed
from hoofcohort.planning.structure import overlaps, structure
from hoofcohort.planning.yaml_file import read_yaml

FEET = ("LF", "RF", "LH", "RH")
STAND_INS = {
    "cutoffs": [],
    "comparison": "<",
    "value": 0.0,
    "status": "study-defined",
}


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
