"""The report's figures: SVG text, the same bytes each time."""
