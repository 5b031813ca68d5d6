"""A study whose outcomes could not all be analysed still gets its report."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from small_run import stage


def refuse(folder: Path, count: int) -> list[str]:
    """Turn the first outcomes' results into refusals; return their titles."""
    titles = []
    for name in list(json.loads((folder / "plan.json").read_text())["outcomes"])[:count]:
        path = folder / "models" / f"{name}.json"
        record = json.loads(path.read_text())
        kept = {key: record[key] for key in ("outcome", "settings", "flow")}
        path.write_text(json.dumps(kept | {"not_analysed": "no exposure varies among the 3 <readings>"}))
        titles.append(record["outcome"]["title"])
    return titles


@pytest.mark.parametrize("count", [1, 9])
def test_an_outcome_that_was_not_analysed_is_reported_with_its_reason(
    run_before_report: Path, tmp_path: Path, count: int
) -> None:
    folder = tmp_path / "run"
    shutil.copytree(run_before_report, folder)
    titles = refuse(folder, count)
    stage("report", "--run-dir", folder)
    page = (folder / "report.html").read_text(encoding="utf-8")
    for title in titles:
        said = f"{title[0].upper()}{title[1:]} was not analysed: no exposure varies among the 3 &lt;readings&gt;."
        assert page.count(said) == 2
    flow = (folder / "tables" / "flow.csv").read_text()
    assert "outcome measured" in flow
    assert ("Unadjusted and adjusted estimates" in page) == (count == 1)
