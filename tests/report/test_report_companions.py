"""Sentences on what rests on fewer assumptions than the mixed model."""

from hoofcohort.report.text.companions import variance_tests_sentence

TEST = {"replicates": 199, "failed": 0}


def test_variance_tests_say_how_they_were_made():
    said = variance_tests_sentence({"levels": {"horse": TEST, "foot": TEST}, "skipped": {}})
    assert "199 outcomes simulated without the level" in said
    assert "The smallest p that so many can give is 0.005." in said
    assert "left out" not in said


def test_variance_tests_name_failures_and_what_was_not_tested():
    said = variance_tests_sentence({
        "levels": {"horse": TEST | {"replicates": 198, "failed": 1}},
        "skipped": {"yard": "the model without yard could not be fitted."},
    })  # fmt: skip
    assert "1 simulated outcome could not be fitted and was left out." in said
    assert said.endswith("Not tested, yards: the model without yard could not be fitted.")


def test_no_variance_tests_no_sentence():
    assert variance_tests_sentence(None) == ""
    skipped = variance_tests_sentence({"levels": {}, "skipped": {"foot": "more than 5,000 readings"}})
    assert "Bootstrap p" not in skipped
