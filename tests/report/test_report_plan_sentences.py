import pytest
from invented_results import fit, model, step

from hoofcohort.plan import parse_plan
from hoofcohort.report.text import cohort, methods
from hoofcohort.report.text import plan as text

PLAN = {
    "study": "s",
    "title": "T",
    "question": "Q?",
    "written": "2026-02-01",
    "data": {"horses": "h.csv", "management": "m.csv", "feet": "f.csv", "as_of": "2026-09-30"},
    "outcomes": {
        "heel_underrun_deg": {
            "role": "primary",
            "comparison": {"exposure": "diet", "first": "concentrate", "second": "hay"},
        },
        "frog_width_mm": {"role": "secondary", "window_days": 60, "interactions": []},
    },
    "exposures": {"diet": {"form": "share", "reference": "hay"}, "trim_interval_days": {"form": "mean", "per": 7.0}},
    "adjustments": ["age_years", "method"],
    "references": {"method": "gauge"},
    "interactions": [["diet", "age_years"]],
}


def plan(**changes):
    return parse_plan(PLAN | changes)


def test_the_plan_in_sentences():
    assert text.written_sentence(plan()) == "The plan was fixed on 2026-02-01; everything below was declared in it."
    assert text.data_sentence(plan()) == ("Data: h.csv, m.csv and f.csv. Rows later than 2026-09-30 are rejected.")
    assert text.plan_sentences(plan()) == [
        "Adjustments: age at the visit and method of measuring.",
        "Levels, outermost first: yards, horses and feet; across the feet also visits of a horse.",
        "Interactions: diet × age at the visit.",
        "Reference values of adjustments: method of measuring “gauge”.",
        "A reading is analysed only when at least 80% of the days of its window are on record, for each exposure.",
        "Intervals are 95% intervals.",
        "The exposures' F tests in the adjusted models of the primary outcomes are adjusted together by Holm's method "
        "(Scand J Stat 1979;6:65-70).",
    ]


def test_choices_that_weaken_the_plan_are_told():
    sentences = text.plan_sentences(plan(also=[], adjustments=[], references={}, interactions=[]))
    assert sentences[0] == "No adjustments."
    assert sentences[1] == (
        "Levels, outermost first: yards, horses and feet; the plan leaves out what the feet of a horse share at "
        "one visit."
    )
    assert text.multiplicity_sentence(plan(multiplicity={"family": "all", "method": "none"})) == (
        "The exposures' F tests in the adjusted models of all outcomes are not adjusted for multiplicity, by the "
        "plan's "
        "choice."
    )


def test_what_an_outcome_does_differently():
    assert text.differs_text(plan(), "heel_underrun_deg") == "as the study"
    assert text.differs_text(plan(), "frog_width_mm") == "own interactions"
    assert text.comparison_text(plan().for_outcome("heel_underrun_deg")) == "diet: concentrate v hay"
    assert text.comparison_text(plan().for_outcome("frog_width_mm")) == "none named"


DAY = {"diet": {"form": "as_of", "reference": "hay"}, "trim_interval_days": {"form": "as_of", "per": 7.0}}


def test_what_must_be_on_record_depends_on_the_exposures_forms():
    assert text.coverage_sentence(plan(exposures=DAY)) == (
        "A reading is analysed only when diet and trim interval are on record on the day of the visit."
    )
    mixed = PLAN["exposures"] | {"diet": DAY["diet"]}
    assert text.coverage_sentence(plan(exposures=mixed)) == (
        "A reading is analysed only when at least 80% of the days of its window are on record with trim interval and "
        "diet is on record on the day of the visit."
    )
    outcomes = PLAN["outcomes"] | {"frog_width_mm": {"role": "secondary", "interactions": [], "exposures": DAY}}
    own = plan(outcomes=outcomes)
    assert text.coverage_sentence(own) == (
        "For toe-heel angle difference (under-run), a reading is analysed only when at least 80% of the days of its "
        "window are on record, for each exposure. For frog width, a reading is analysed only when diet and trim "
        "interval are on record on the day of the visit."
    )
    day = methods.methods_sentences(plan(exposures=DAY))[1]
    assert day.startswith(
        "Exposures were taken as they were on record on the day of the visit. Diet and trim interval as the value on "
        "the day of the visit. A reading is analysed only when diet"
    )
    assert "window" not in day
    assert "For frog width: diet and trim interval as the value on the day" in methods.methods_sentences(own)[1]


@pytest.mark.parametrize(
    ("level", "words"),
    [("horse:visit", ("the feet of a horse at one visit", "from visit to visit")), ("yard", ("one yard", "yards"))],
)
def test_a_level_left_out_makes_standard_errors_too_small(level, words):
    said = text.leaves_out_sentence(level)
    assert words[0] in said
    assert f"{words[1]} are then too small" in said
    told = methods.limitations(plan(), {"heel_underrun_deg": model()}, {}, [level])
    assert said in told
    assert said not in methods.limitations(plan(), {"heel_underrun_deg": model()}, {})


def test_only_sensitivity_analyses_that_were_run_are_named():
    bare = methods.limitations(plan(), {"heel_underrun_deg": model()}, {})
    assert "No sensitivity analyses beyond those shown (unadjusted estimates) were part of this run." in bare
    full = model(
        without_visit={"effects": []},
        influence={"levels": [{"level": "horse", "rows": [{"label": "H1"}]}, {"level": "yard", "rows": []}]},
        robust={"effects": [{"robust": {"std_error": 1.0}}]},
        check={"available": True},
    )
    assert (
        "No sensitivity analyses beyond those shown (unadjusted estimates, one horse left out at a time, the model "
        "without visits, robust standard errors and the independent check) were part of this run."
    ) in methods.limitations(plan(), {"heel_underrun_deg": full}, {})


def test_limitations_that_depend_on_the_adjustments():
    plain = " ".join(methods.limitations(plan(), {}, {}))
    assert "the models do not adjust for the observer." in plain
    assert "at equal days since the trim" not in plain
    more = plan(adjustments=["age_years", "method", "observer_id", "days_since_trim"])
    both = " ".join(methods.limitations(more, {}, {}))
    assert "removes only a constant difference between observers." in both
    assert "at equal days since the trim" in both
    for words in ("may be the reverse", "The models do not hold who trims", "pools differences between yards"):
        assert words in plain


def test_crossed_factors_are_told_in_plan_methods_and_limitations():
    crossed = plan(crossed=["farrier_id", "observer_id"])
    assert "; across all of these farriers and observers." in " ".join(text.plan_sentences(crossed))
    assert "visits of a horse, and for farriers and observers, fitted by" in " ".join(
        methods.methods_sentences(crossed)
    )
    said = " ".join(methods.limitations(crossed, {}, {}))
    assert "Who trims is in the models only as the farrier on record on the day of the visit." in said
    assert "the observer as a random factor takes in a constant difference between observers and no more." in said
    own = {
        "outcomes": {name: own.model_copy(update={"crossed": []}) for name, own in list(crossed.outcomes.items())[:1]}
    }
    some = crossed.model_copy(update={"outcomes": crossed.outcomes | own["outcomes"]})
    assert "Who trims is in the models of some outcomes" in " ".join(methods.limitations(some, {}, {}))


def test_how_many_flagged_readings_are_analysed():
    assert cohort.flagged_sentence(set(), {1, 2}) == ""
    assert cohort.flagged_sentence({2, 3, 9}, {1, 2}) == (
        "Of 3 readings of feet with a flagged value, 1 is in at least one outcome's analysis, which need not use that "
        "value."
    )


def ledger(read, rejected, flagged):
    return {"totals": {"rows_read": read, "accepted": read - rejected, "rejected": rejected, "flagged": flagged}}


@pytest.mark.parametrize(
    ("account", "sentences"),
    [
        (
            ledger(922, 31, 4),
            [
                "Of 922 rows received in three files, 891 were accepted.",
                "31 rows (3%) were rejected; each is listed with its reason and a remedy in rejects.csv.",
                "4 values are possible but not plausible: kept, not removed, and listed in flags.csv.",
            ],
        ),
        (
            ledger(100, 1, 1),
            [
                "Of 100 rows received in three files, 99 were accepted.",
                "1 row (1%) was rejected; each is listed with its reason and a remedy in rejects.csv.",
                "1 value is possible but not plausible: kept, not removed, and listed in flags.csv.",
            ],
        ),
        (ledger(3, 0, 0), ["Of 3 rows received in three files, 3 were accepted.", "No row was rejected."]),
    ],
)
def test_what_came_in(account, sentences):
    assert cohort.intake_sentences(account) == sentences


def test_who_the_readings_belong_to():
    counts = {"readings": 733, "feet": 252, "horses": 62, "yards": 1, "owners": 43}
    assert cohort.accepted_sentence(counts, 63) == (
        "The accepted readings are 733 readings of 252 feet of 62 horses, kept in 1 yard and owned by 43 owners. "
        "1 accepted "
        "horse had no accepted reading."
    )
    assert cohort.small_cohort_sentences(counts, 3) == [
        "With 1 yard, differences between yards can hardly be estimated."
    ]
    assert cohort.small_cohort_sentences(counts | {"horses": 4, "yards": 9}, 3) == [
        "With 4 horses, read every result as a description of these horses."
    ]
    assert cohort.contrast_sentence({"diet": (9, 12), "trim_interval_days": (0, 12)}) == (
        "Horses of one yard differ in diet in 9 of 12 yards and trim interval in 0 of 12 yards; in the other yards the "
        "exposure is one with the yard, and cannot be told apart from anything else about it."
    )
    assert cohort.contrast_sentence({"diet": (1, 1)}) == "Horses of one yard differ in diet in 1 of 1 yard."


def test_limitations_of_this_study_stand_beside_those_of_every_such_study():
    lost = model(
        flow=[step("accepted readings", readings=100), step("rows used", readings=75)], adjusted=fit(boundary=["yard"])
    )
    whole = model(flow=[step("accepted readings", readings=100), step("rows used", readings=95)])
    said = methods.limitations(
        plan(),
        {"heel_underrun_deg": lost, "frog_width_mm": whole},
        {"diet": (3, 12), "trim_interval_days": (9, 12)},
    )
    assert (
        "Exposure and yard go together. By the groups of the table of the cohort, horses of one yard differ in diet in "
        "3 of 12 and in trim interval in 9 of 12 yards; in the others the exposure cannot be told apart from anything "
        "else about the yard. Comparisons of diet therefore rest mainly on differences between yards."
    ) in said
    assert (
        "Many accepted readings could not be analysed: 25% for toe-heel angle difference. If they were missing "
        "for a reason that goes with feet and keeping, the estimates are biased."
    ) in said
    assert (
        "At least one variance was estimated as zero for toe-heel angle difference (under-run): these data show no "
        "more difference between the groups of that level than the other levels account for. That is not evidence "
        "that there is none."
    ) in said
    assert said[-1] == (
        "1 secondary outcome (frog width) stands outside the family of adjusted tests: read it as exploration."
    )


def test_methods_name_their_sources_and_the_studys_own_settings():
    said = methods.methods_sentences(plan())
    assert said[1] == (
        "Exposures were looked up over the days in which the horn under study grew: a window of 60 or 120 days "
        "that ends on the day of the visit. Diet as the share of those days with each word; trim interval as the mean "
        "over those days. A reading is analysed only when at least 80% of the days of its window are on record, for "
        "each exposure. Age counts from 1 January of the birth year, as only the year is recorded."
    )
    whole = " ".join(said)
    for source in (
        "Biometrics 1997;53:983-997",
        "J Vet Intern Med 2016;30:1887-1895",
        "Methods Ecol Evol 2013;4:133-142",
    ):
        assert source in whole
    assert "the models adjust for the method" in whole
    pooled = " ".join(methods.methods_sentences(plan(adjustments=[], references={}, interactions=[])))
    assert "the models do not adjust for the method, so readings of several methods are pooled as they are." in pooled


def test_cautions_defer_to_the_vet_to_licensed_practice_and_to_local_rules():
    whole = " ".join(methods.CAUTIONS)
    for words in (
        "attending veterinary surgeon",
        "local law licenses",
        "welfare, biosecurity",
        "no diagnosis",
        "no advice",
    ):
        assert words in whole
