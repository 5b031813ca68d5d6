"""From CSV files of hoof measurements to a study report."""

__version__ = "0.1.0"
