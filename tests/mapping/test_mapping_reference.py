"""The committed page about mappings is the one that the models and the limits give, and its example is a mapping."""

from __future__ import annotations

import re
from pathlib import Path

from hoofcohort.mapping.index_limits import INDEX_LIMITS
from hoofcohort.mapping.mapping import Mapping, To, load_mapping
from hoofcohort.mapping.reference import markdown

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
