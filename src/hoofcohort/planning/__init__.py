"""How a plan's file is read, and how its faults are found and worded. What a plan may say is in ``plan.py`` alone."""
