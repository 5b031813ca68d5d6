"""Sentences and tables on single horses and yards, robust standard errors and spread."""

from __future__ import annotations

from invented_results import effect, estimate, model

from hoofcohort.report.sheets import groups as sheets
from hoofcohort.report.text.groups import influence_sentence, robust_sentences, spread_sentence

LABEL = "concentrate v hay (all days v all days)"


def row(label, value, low, high, change):
    limits = {"estimate_without": value, "low_without": low, "high_without": high}
    return {"label": label, **limits, "change_in_se": change, "distance": 0.25}


def level(name, rows, **changes):
    base = {"level": name, "n": 52, "failed": 0, "turned": 0, "rows": rows, "skipped_reason": ""}
    return base | changes


def influence(*levels):
    whole = {"estimate": 2.3, "low": 1.0, "high": 3.6, "df": 20.0}
    return {"of": LABEL, "whole": whole, "skipped_reason": "", "levels": list(levels)}


def test_the_horse_and_the_yard_that_move_the_result_most_are_named():
    told = influence_sentence(
        influence(
            level("horse", [row("H0004", 1.9, 0.6, 3.2, -0.534), row("H0001", 2.4, 1.1, 3.7, 0.1)], failed=1),
            level("yard", [row("Y07", 1.1, -0.4, 2.6, -1.2)], n=9, turned=2),
        )
    )
    assert told == (
        f"Every horse and every yard was left out in turn, to see what “{LABEL}” rests on. Of 52 horses, horse H0004 "
        "moves it most: without it, the estimate is 1.9 (0.6 to 3.2) instead of 2.3 (1.0 to 3.6), 0.53 standard errors "
        "away. The interval still excludes zero. Without 1 horse the rest could not give the estimate at all. Of 9 "
        "yards, yard Y07 moves it most: without it, the estimate is 1.1 (−0.4 to 2.6) instead of 2.3 (1.0 to 3.6), 1.2 "
        "standard errors away, a large move. The interval then includes zero, which that from all rows does not. "
        "Leaving out a single yard changes whether the interval includes zero for 2 yards of 9."
    )


def test_what_could_not_be_left_out_is_said():
    one = influence_sentence(
        influence(level("horse", [row("H1", 2.3, -1.0, 3.6, 0.0)]), level("yard", [], skipped_reason="no such level"))
    )
    assert one.endswith("Yards could not be left out: no such level.")
    none = influence(level("horse", [], skipped_reason="too many"), level("yard", [], skipped_reason="too few"))
    assert influence_sentence(none) == "How far single groups move the result was not worked out: too many; too few."
    skipped = {"of": LABEL, "whole": None, "levels": [], "skipped_reason": "the effect could not be estimated"}
    assert influence_sentence(skipped).endswith("not worked out: the effect could not be estimated.")
    assert influence_sentence(None).endswith("not worked out: it was not run.")


def test_an_interval_without_limits_includes_zero():
    told = influence_sentence(influence(level("horse", [row("H1", 2.3, None, None, 0.0)])))
    assert "the estimate is 2.3 (no interval) instead of 2.3 (1.0 to 3.6)" in told
    assert "The interval then includes zero, which that from all rows does not." in told


def test_the_table_shows_five_of_each_level_and_files_all():
    rows = [row(f"H{k}", 2.0, 1.0, 3.0, 1.0 / (k + 1)) for k in range(8)]
    made = sheets.influence_sheet(model(influence=influence(level("horse", rows), level("yard", rows[:2]))))
    assert [(title, len(shown)) for title, shown in made.groups()] == [("Horses", 5), ("Yards", 2)]
    assert made.groups()[0][1][0][1] == ["H0", "2.0 (1.0 to 3.0)", "1.00", "0.25"]
    assert len(made.to_csv().splitlines()) == 11
    assert sheets.influence_sheet(model()) is None


def robust(std_error, low, high, df=12.0, chance=(0.6, 1.4)):
    numbers = {**estimate(2.31, low, high, df=df), "std_error": std_error}
    return numbers | {"chance_low": chance[0], "chance_high": chance[1]}


def with_robust(own, clusters=30):
    adjusted = {**estimate(2.31, 1.02, 3.6), "std_error": 0.6}
    rows = [{"exposure": "diet", "label": LABEL, "of_interest": True, "robust": own}]
    record = {"cluster": "yard", "clusters": clusters, "skipped_reason": "", "effects": rows}
    return model(effects=[effect(adjusted)], robust=record)


def test_agreement_is_said_with_the_rule():
    told = robust_sentences(with_robust(robust(0.7, 0.8, 3.8)))
    assert len(told) == 2 and "only on yards being independent of each other (30 clusters" in told[0]
    assert told[1].startswith("They do not disagree with the model's for any comparison (the rule: standard errors")
    assert "differ by more than 25%" in told[1]


def test_standard_errors_far_apart_disagree_unless_chance_explains_it():
    far = robust_sentences(with_robust(robust(0.9, 0.3, 4.3)))[1]
    assert f"“Diet: {LABEL}” (robust standard error 50% larger, 12.0 degrees of freedom)" in far
    by_chance = robust_sentences(with_robust(robust(0.9, 0.3, 4.3, chance=(0.3, 1.7))))[1]
    assert by_chance.startswith("They do not disagree")
    small = robust_sentences(with_robust(robust(0.3, 1.6, 3.0)))[1]
    assert "robust standard error 50% smaller" in small


def test_intervals_that_differ_on_zero_disagree():
    told = robust_sentences(with_robust(robust(0.62, -0.1, 4.7, df=3.0), clusters=7))
    assert (
        "(robust standard error 3% larger, 3.0 degrees of freedom, only the model's interval excludes zero)" in told[1]
    )
    assert told[2] == "With fewer than 10 yards robust standard errors are themselves very uncertain."
    assert told[3].startswith(f"Fewer than 4 degrees of freedom stand behind “Diet: {LABEL}”")


def test_no_robust_standard_errors_for_a_reason():
    assert robust_sentences(model()) == ["No robust standard errors: no effect has one."]
    skipped = {"cluster": "yard", "clusters": 5, "skipped_reason": "a factor crosses them", "effects": []}
    assert robust_sentences(model(robust=skipped)) == ["No robust standard errors: a factor crosses them."]
    assert sheets.robust_sheet(model(robust=skipped)) is None


def test_the_two_standard_errors_stand_side_by_side():
    made = sheets.robust_sheet(with_robust(robust(0.9, 0.3, 4.3)))
    marked, cells = made.rows()[0]
    assert marked and cells[0] == f"Diet: {LABEL}"
    assert cells[1:3] == ["2.3 (1.0 to 3.6)", "0.60"] and cells[4:7] == ["2.3 (0.3 to 4.3)", "0.90", "12.0"]
    header, line = made.to_csv().splitlines()
    assert dict(zip(header.split(","), line.split(","), strict=True))["ratio"] == "1.5"


def spread(ratio=1.1, words=1.2, name="residual"):
    rows = [{"word": "hay", "n": 30, "sd": 1.0}, {"word": "concentrate", "n": 20, "sd": words}]
    along = {"sd_low": 1.0, "sd_high": ratio, "ratio": ratio, "rank_correlation": 0.1}
    own = {"variable": "diet", "title": "diet", "exposure": True, "words": rows, "ratio": words}
    return {"level": name, "n": 90, "fitted": along, "variables": [own]}


def test_even_and_uneven_spread():
    even = spread_sentence([spread()])
    assert even.startswith("Residuals and predicted effects spread alike") and "no source" in even
    told = spread_sentence([spread(ratio=1.8), spread(words=2.0, name="horse"), spread(ratio=0.5, name="foot")])
    assert "residuals spread more widely where the fitted value is high than where it is low (1.8 times)" in told
    assert "predicted effects of horses spread more widely with diet concentrate than with hay (2.0 times)" in told
    assert (
        "predicted effects of feet spread less widely where the fitted value is high than where it is low (2.0 times)"
        in told
    )
    nothing = {"level": "yard", "n": 3, "fitted": None, "variables": []}
    assert spread_sentence([nothing]) == "Too few groups to compare how residuals and predicted effects spread."
    assert spread_sentence(None) == spread_sentence([])


def test_the_table_of_the_spread_leaves_adjustments_to_the_file():
    record = spread()
    record["variables"].append(record["variables"][0] | {"title": "side", "exposure": False})
    made = sheets.spread_sheet(model(spread=[record]))
    shown = [cells for _, rows in made.groups() for _, cells in rows]
    assert shown == [
        ["Fitted value: lowest third", "30", "1.00"], ["Fitted value: highest third", "30", "1.10"],
        ["Diet: hay", "30", "1.00"], ["Diet: concentrate", "20", "1.20"],
    ]  # fmt: skip
    assert len(made.to_csv().splitlines()) == 7
    assert sheets.spread_sheet(model()) is None
