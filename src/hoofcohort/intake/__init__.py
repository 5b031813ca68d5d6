"""From CSV files to accepted tables: every row is accepted, or rejected with a reason and a remedy."""
