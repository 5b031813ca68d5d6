"""From a member's headers, units and words to the columns of the three tables."""
