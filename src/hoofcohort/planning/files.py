"""Check that the files a plan names are there and can be used."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Any

from hoofcohort.errors import PlanError
from hoofcohort.plan import Plan
from hoofcohort.planning.cutoffs import load_cutoffs
from hoofcohort.planning.faults import Fault

TABLES = ("horses", "management", "feet")


def file_faults(value: dict[str, Any], made: Collection[str] = ()) -> list[Fault]:
    """Return a fault for each data file that is not there and for each fault in the file of cut-offs.

    Parameters
    ----------
    value : dict
        The content of a plan's file, valid or not; names that are not text are passed over here.
    made : collection of str
        Data files that need not exist yet.
    """
    data = value.get("data")
    named = {("data", table): data.get(table) for table in TABLES} if isinstance(data, dict) else {}
    faults = [
        Fault(where, f"no file '{name}'; give its path from the folder in which the command is started")
        for where, name in named.items()
        if isinstance(name, str) and name and name not in made and not Path(name).is_file()
    ]
    cutoffs = value.get("cutoffs", Plan.model_fields["cutoffs"].default)
    if isinstance(cutoffs, str) and cutoffs:
        try:
            load_cutoffs(cutoffs)
        except PlanError as error:
            faults += [Fault(("cutoffs",), line) for line in str(error).splitlines()]
    return faults
