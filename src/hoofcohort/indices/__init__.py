"""Indices derived from the measurements of a reading."""

from __future__ import annotations

from hoofcohort.indices.catalogue import CATALOGUE, Index

__all__ = ["CATALOGUE", "Index"]
