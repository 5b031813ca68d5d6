"""The committed description of the settings is the one that the models give."""

from __future__ import annotations

from pathlib import Path

from hoofcohort.plan import Comparison, Data, Exposure, Multiplicity, Outcome, Plan
from hoofcohort.planning.cutoffs import Cutoff
from hoofcohort.planning.reference import markdown

README = Path(__file__).parents[2] / "config/README.md"


def test_config_readme_has_not_drifted():
    remedy = "run: python -m hoofcohort.planning.reference > config/README.md"
    assert README.read_text(encoding="utf-8") == markdown(), remedy


def test_every_key_is_documented_with_a_sentence():
    text = markdown()
    for model in (Plan, Data, Outcome, Comparison, Exposure, Multiplicity, Cutoff):
        for key, field in model.model_fields.items():
            assert f"| `{key}` |" in text
            assert field.description.endswith("."), f"{model.__name__}.{key}"


def test_quantities_have_a_unit():
    for model in (Plan, Outcome, Exposure, Cutoff):
        for key, field in model.model_fields.items():
            if (
                "int" in str(field.annotation)
                or "float" in str(field.annotation)
                or "WindowDays" in str(field.annotation)
            ):
                assert field.json_schema_extra["unit"], f"{model.__name__}.{key}"
