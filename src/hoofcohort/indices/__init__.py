"""Indices derived from the measurements of a reading, and the cut-offs that the trade applies to them."""

from __future__ import annotations

from hoofcohort.indices.catalogue import CATALOGUE, Index

__all__ = ["CATALOGUE", "Index"]
