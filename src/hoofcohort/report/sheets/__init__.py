"""The report's tables, each made by a small function from a run's results."""
