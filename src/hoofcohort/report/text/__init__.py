"""The report's sentences: small functions from results to prose, each tested as prose."""
