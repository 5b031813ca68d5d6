"""An outcome fitted from statistics of parts of its rows, scattered over jobs, against the run's own fit."""

from __future__ import annotations

import json

import pytest


def test_a_scattered_fit_is_the_fit_of_all_rows(finished):
    run = finished.path / "reports/one-outcome"
    (model,) = (run / "models").glob("*.json")
    target = f"reports/one-outcome/pooled/{model.name}"

    jobs = finished.jobs(target, "--set-scatter", "statistics=3")

    assert jobs == sorted(
        [
            f"one-outcome: specify the statistics of {model.stem}",
            *(f"one-outcome: summarise {model.stem}, part {part}-of-3" for part in (1, 2, 3)),
            f"one-outcome: merge the statistics of {model.stem}",
            f"one-outcome: fit the statistics of {model.stem}",
        ]
    )
    ours, theirs = json.loads((finished.path / target).read_text()), json.loads(model.read_text())["adjusted"]
    assert "3 parts" in ours["messages"][0]
    for key in ("rows_used", "groups", "method", "df_method", "confidence", "boundary", "dropped_terms"):
        assert ours[key] == theirs[key], key
    assert ours["criterion"] == pytest.approx(theirs["criterion"], rel=1e-10)
    for kind in ("coefficients", "variances"):
        assert len(ours[kind]) == len(theirs[kind])
        for one, other in zip(ours[kind], theirs[kind], strict=True):
            for name, value in one.items():
                wanted = value if isinstance(value, str) else pytest.approx(value, rel=1e-8, abs=1e-10)
                assert other[name] == wanted, name
    assert [path.name for path in (run / "pooled").iterdir() if path.is_file()] == [model.name]
    assert finished.jobs() == []
