"""How often the engine's 95% intervals hold the truth, counted over invented cohorts.

``python -m hoofcohort.calibration`` and ``workflow/rules/calibration.smk`` run it; nothing of a study is used.
"""
