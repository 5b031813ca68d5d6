"""One outcome of a study: its analysis table, its models, and what to say about them."""
