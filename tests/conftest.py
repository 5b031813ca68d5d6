"""One thread for linear algebra: the matrices are small, and the last digits must not depend on the machine.

With ``-m slow`` property tests count as slow, and look at many examples.
"""

from __future__ import annotations

import os

import pytest

from examples import look_at_more
from hoofcohort.cli import THREADS

for name in THREADS:
    os.environ.setdefault(name, "1")


def pytest_configure(config: pytest.Config) -> None:
    if config.option.markexpr == "slow":
        look_at_more()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.option.markexpr == "slow":
        for item in items:
            if getattr(getattr(item, "obj", None), "is_hypothesis_test", False):
                item.add_marker("slow")
