"""The study report: text, figures, tables and the page, made from a run's folder."""
