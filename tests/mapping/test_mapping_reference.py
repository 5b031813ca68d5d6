"""The committed page about mappings is the one that the models and the limits give, and its example is a mapping."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from mapped_sheets import one_column

from hoofcohort.intake.reasons import REASONS
from hoofcohort.mapping import limits, unit_of_column
from hoofcohort.mapping.index_limits import INDEX_LIMITS
from hoofcohort.mapping.mapping import Mapping, To, load_mapping
from hoofcohort.mapping.reference import markdown
from hoofcohort.tables.declare import DATES_POSSIBLE

PAGE = Path(__file__).parents[2] / "config/mapping.md"


def test_the_page_has_not_drifted():
    remedy = "run: python -m hoofcohort.mapping.reference > config/mapping.md"
    assert PAGE.read_text(encoding="utf-8") == markdown(), remedy


def test_every_key_is_on_it():
    text = markdown()
    for model in (Mapping, To):
        for key, field in model.model_fields.items():
            assert f"| `{key}` |" in text
            assert field.description
    assert all(f"| `{limit.index}` |" in text for limit in INDEX_LIMITS)


def test_its_example_is_a_mapping(tmp_path):
    (example,) = re.findall(r"```yaml\n(.*?)```", markdown(), flags=re.DOTALL)
    path = tmp_path / "mapping.yaml"
    path.write_text(example)
    assert load_mapping(path).columns["Toe"].unit == "cm"


def test_every_limit_is_on_it():
    text = markdown()
    numbers = [
        getattr(module, name)
        for module in (limits, unit_of_column)
        for name in vars(module)
        if name.isupper() and not name.startswith(("_", "UNIT_SLIPS", "TABLES"))
    ]
    flat = [number for one in numbers for number in _numbers(one)]
    assert len(flat) > 20
    shown = {float(found.replace("%", "e-2")) for found in re.findall(r"[0-9]+(?:\.[0-9]+)?%?", text)}
    assert not [number for number in flat if np.isfinite(number) and float(number) not in shown]
    assert all(day in text for day in DATES_POSSIBLE)
    assert "unit: date" in text


def _numbers(one):
    if isinstance(one, dict):
        return [number for value in one.values() for number in _numbers(value)]
    if isinstance(one, tuple) and all(isinstance(value, (int, float, tuple)) for value in one):
        return [number for value in one for number in _numbers(value)]
    return [one] if isinstance(one, (int, float)) else []


def test_no_reason_is_on_it_that_a_member_is_never_told():
    commas = one_column(["88,5", "89,5"], to="toe_length_mm")
    assert not commas.faults
    assert REASONS["decimal_comma"] not in markdown()
