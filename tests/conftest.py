"""One thread for linear algebra: the matrices are small, and the last digits must not depend on the machine."""

from __future__ import annotations

import os

from hoofcohort.cli import THREADS

for name in THREADS:
    os.environ.setdefault(name, "1")
