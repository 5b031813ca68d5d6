"""The plan: the demo's as it is read, an outcome's settings merged, and what is refused, told whole and in words."""

from __future__ import annotations

import json
import subprocess
import sys
from copy import deepcopy
from datetime import date
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from hoofcohort.errors import PlanError
from hoofcohort.plan import Plan, load_plan, parse_plan

DEMO = Path(__file__).parents[2] / "config/demo.yaml"
RAW = yaml.safe_load(DEMO.read_text(encoding="utf-8"))


def changed(**places: object) -> dict:
    """Return the demo's plan with values set (or, by ``...``, removed) at places such as ``data__feet``."""
    value = deepcopy(RAW)
    for place, new in places.items():
        *groups, last = place.split("__")
        group = value
        for key in groups:
            group = group[key]
        if new is ...:
            del group[last]
        else:
            group[last] = new
    return value


def faults(**places: object) -> list[str]:
    with pytest.raises(PlanError) as caught:
        parse_plan(changed(**places))
    return str(caught.value).splitlines()


def test_the_demos_plan_is_sound():
    plan = load_plan(DEMO)
    assert plan.study == "heels-and-frogs"
    assert plan.written == date(2026, 2, 1)
    assert plan.data.as_of == date(2026, 9, 30)
    assert plan.invented
    assert [name for name, outcome in plan.outcomes.items() if outcome.role == "primary"] == [
        "heel_underrun_deg",
        "frog_width_mm",
    ]
    assert plan.levels == ["yard", "horse", "foot"]
    assert plan.also == ["horse:visit"]


def test_the_demo_spells_out_and_comments_every_key_of_the_plan():
    assert set(RAW) == set(Plan.model_fields)
    for number, line in enumerate(DEMO.read_text(encoding="utf-8").splitlines()[3:], 4):
        if line and not line[0].isspace() and line.split(":")[0] not in ("study", "title", "question"):
            assert "#" in line, f"line {number}"


def test_defaults_are_filled_in():
    plan = parse_plan(
        {key: RAW[key] for key in ("study", "title", "question", "written", "data", "outcomes")}
        | {"exposures": {"diet": {}, "terrain": {}, "turnout_hours": {}}}
    )
    assert not plan.invented
    assert plan.exposures["diet"].model_dump() == {"form": "share", "reference": "hay", "per": None}
    assert plan.exposures["turnout_hours"].model_dump() == {"form": "mean", "reference": None, "per": 1.0}
    assert plan.adjustments == plan.interactions == []
    assert plan.window_days == 120
    assert (plan.multiplicity.family, plan.multiplicity.method) == ("primary", "holm")


def test_written_out_whole_it_reads_back_as_the_same_plan(tmp_path):
    plan = load_plan(DEMO)
    text = json.dumps(plan.model_dump(mode="json"))
    assert list(json.loads(text)) == list(Plan.model_fields)
    (tmp_path / "plan.json").write_text(text)
    again = load_plan(tmp_path / "plan.json")
    assert again == plan
    assert json.dumps(again.model_dump(mode="json")) == text


def test_an_outcomes_settings_are_the_studys_with_its_own_on_top():
    value = changed(
        outcomes__frog_ratio={
            "role": "secondary",
            "window_days": 200,
            "exposures": {"diet": {"form": "as_of"}, "trim_interval_days": {"per": 14}},
            "adjustments": ["fore_hind"],
            "levels": ["horse", "foot"],
            "also": [],
        },
        interactions=[["diet", "fore_hind"]],
    )
    plan = parse_plan(value)
    own, other = plan.for_outcome("frog_ratio"), plan.for_outcome("frog_width_mm")
    assert (own.name, own.role, own.window_days, own.comparison) == ("frog_ratio", "secondary", 200, None)
    assert own.exposures["diet"].model_dump() == {"form": "as_of", "reference": "hay", "per": None}
    assert own.exposures["terrain"] == other.exposures["terrain"] == plan.exposures["terrain"]
    assert own.exposures["trim_interval_days"].per == 14
    assert (own.adjustments, own.references) == (["fore_hind"], {"fore_hind": "fore"})
    assert (own.levels, own.also) == (["horse", "foot"], [])
    assert own.interactions == [["diet", "fore_hind"]]
    assert other.window_days == 120
    assert other.adjustments == plan.adjustments
    assert other.also == ["horse:visit"]
    assert (other.minimum_coverage, other.confidence) == (0.8, 0.95)


def test_one_outcomes_change_leaves_the_settings_of_the_others_as_they_were():
    before = parse_plan(changed())
    after = parse_plan(changed(outcomes__frog_ratio__window_days=90, title="Another", multiplicity={"method": "none"}))
    assert before.for_outcome("frog_ratio") != after.for_outcome("frog_ratio")
    for name in ("heel_underrun_deg", "frog_width_mm"):
        dumped = [json.dumps(plan.for_outcome(name).model_dump(mode="json")) for plan in (before, after)]
        assert dumped[0] == dumped[1]


def test_an_outcome_the_plan_does_not_have():
    with pytest.raises(PlanError, match="no outcome 'frog' in plan 'heels-and-frogs'; it has: heel_underrun_deg"):
        load_plan(DEMO).for_outcome("frog")


DIETS = "hay, pasture, concentrate"
ONE_FAULT = [
    ({"titel": "x"}, "titel: unknown key; correct or remove it; allowed: study, title, "),
    ({"title": ...}, "title: missing; add it: The report's title."),
    ({"title": ""}, "title: found nothing in it; fill it in: The report's title."),
    ({"title": 5}, "title: found 5; it must be text (in quotes, where YAML reads it as something else)"),
    ({"question": None}, "question: found nothing; it must be text (in quotes, where YAML reads it as something else)"),
    (
        {"study": "Heels & frogs"},
        "study: found 'Heels & frogs'; allowed: small letters, digits and hyphens, beginning with a letter or a digit",
    ),
    ({"study": "../up"}, "study: found '../up'; allowed: small letters, digits and hyphens, beginning with a letter "),
    ({"written": "2026-02-30"}, "written: found '2026-02-30'; it must be a date of the calendar, YYYY-MM-DD"),
    ({"written": "01.02.2026"}, "written: found '01.02.2026'; it must be a date of the calendar, YYYY-MM-DD"),
    ({"written": 20260201}, "written: found 20260201; it must be a date of the calendar, YYYY-MM-DD"),
    ({"written": "20260201"}, "written: found '20260201'; it must be a date of the calendar, YYYY-MM-DD"),
    ({"invented": "yes"}, "invented: found 'yes'; it must be true or false"),
    ({"data": "x.csv"}, "data: found 'x.csv'; it must be a group of keys"),
    ({"data__feet": ...}, "data.feet: missing; add it: CSV file with one row per reading"),
    ({"data__foot": "x"}, "data.foot: unknown key; correct or remove it; allowed: horses, management, feet, as_of"),
    ({"outcomes": {}}, "outcomes: found nothing in it; fill it in: What is analysed"),
    (
        {"outcomes__frog_ration": {"role": "secondary"}},
        "outcomes.frog_ration: cannot be computed: found 'frog_ration'; ",
    ),
    (
        {"outcomes__horse_id": {"role": "secondary"}},
        "outcomes.horse_id: cannot be computed: found 'horse_id'; allowed ",
    ),
    (
        {"outcomes__days_since_trim": {"role": "secondary"}},
        "outcomes.days_since_trim: cannot be computed: found 'days_since_trim'; ",
    ),
    (
        {"outcomes__sole_pigment": {"role": "secondary"}},
        "outcomes.sole_pigment: holds words, not numbers, and cannot be an outcome of these models; allowed: ",
    ),
    (
        {"outcomes__toe_angle_class": {"role": "secondary"}},
        "outcomes.toe_angle_class: holds words, not numbers, and cannot be an outcome of these models; allowed: ",
    ),
    ({"outcomes__frog_ratio__role": "main"}, "outcomes.frog_ratio.role: found 'main'; allowed: primary, secondary"),
    ({"outcomes__frog_ratio__role": ...}, "outcomes.frog_ratio.role: missing; add it: A primary outcome answers "),
    ({"outcomes__frog_ratio__window_days": 0}, "outcomes.frog_ratio.window_days: found 0; allowed: from 1 to 1095"),
    ({"window_days": 1096}, "window_days: found 1096; allowed: from 1 to 1095"),
    ({"window_days": 90.5}, "window_days: found 90.5; it must be a whole number"),
    ({"window_days": "90"}, "window_days: found '90'; it must be a whole number"),
    ({"window_days": True}, "window_days: found true (yes or no); it must be a whole number"),
    (
        {"outcomes__frog_width_mm__comparison": ...},
        "outcomes.frog_width_mm.comparison: missing; a primary outcome names the comparison of interest, e.g. ",
    ),
    (
        {"outcomes__frog_ratio__comparison__first": "hardd"},
        "outcomes.frog_ratio.comparison.first: found 'hardd'; allowed (the words of terrain): soft, mixed, hard; "
        "did you mean 'hard'?",
    ),
    (
        {"outcomes__frog_ratio__comparison__second": ...},
        "outcomes.frog_ratio.comparison.second: missing; allowed: soft, mixed, hard",
    ),
    (
        {"outcomes__frog_ratio__comparison__second": "hard"},
        "outcomes.frog_ratio.comparison: first and second are both 'hard'; name two different values",
    ),
    (
        {"outcomes__frog_ratio__comparison__exposure": "terain"},
        "outcomes.frog_ratio.comparison.exposure: found 'terain'; allowed (the plan's exposures): diet, terrain, "
        "trim_interval_days; did you mean 'terrain'?",
    ),
    (
        {"outcomes__frog_ratio__comparison": {"exposure": "trim_interval_days", "first": "7"}},
        "outcomes.frog_ratio.comparison.first: only for exposures of words; the comparison of trim_interval_days is "
        "a slope; remove it",
    ),
    ({"outcomes": {"frog_ratio": None}}, "outcomes.frog_ratio: found nothing; it must be a group of keys"),
    ({"exposures__diet": None}, "exposures.diet: found nothing; it must be a group of keys"),
    ({"exposures": {}}, "exposures: found nothing in it; fill it in: How horses are kept"),
    (
        {"exposures__trimming": {}},
        "exposures.trimming: no such management column: found 'trimming'; allowed: diet, terrain, trim_interval_days, "
        "shoeing, turnout_hours",
    ),
    ({"exposures__diet__form": "shares"}, "exposures.diet.form: found 'shares'; allowed: share, mean, as_of; did you"),
    (
        {"exposures__diet__form": "mean"},
        "exposures.diet.form: found 'mean'; allowed (for a column of words): share, as_of",
    ),
    (
        {"exposures__trim_interval_days__form": "share"},
        "exposures.trim_interval_days.form: found 'share'; allowed (for a column of numbers): mean, as_of",
    ),
    ({"exposures__diet__reference": "straw"}, f"exposures.diet.reference: found 'straw'; allowed: {DIETS}"),
    (
        {"exposures__trim_interval_days__reference": "short"},
        "exposures.trim_interval_days.reference: only for columns of words, and this is a column of numbers; remove it",
    ),
    (
        {"exposures__diet__per": 7},
        "exposures.diet.per: only for columns of numbers, and this is a column of words; remove it",
    ),
    ({"exposures__trim_interval_days__per": 0}, "exposures.trim_interval_days.per: found 0; allowed: above 0"),
    (
        {"outcomes__frog_ratio__exposures": {"shoeing": {"form": "as_of"}}},
        "outcomes.frog_ratio.exposures.shoeing: not one of the study's exposures: found 'shoeing'; allowed: diet, "
        "terrain, trim_interval_days",
    ),
    (
        {"outcomes__frog_ratio__exposures": {"diet": {"form": "mean"}}},
        "outcomes.frog_ratio.exposures.diet.form: found 'mean'; allowed (for a column of words): share, as_of",
    ),
    ({"adjustments": "side"}, "adjustments: found 'side'; it must be a list in brackets, such as [a, b]"),
    ({"adjustments": ["fore_hind", "side", "method", "season", "age"]}, "adjustments, item 5: found 'age'; allowed: "),
    (
        {"adjustments": ["fore_hind", "side", "method", "season", "side"]},
        "adjustments, item 5: 'side' stands twice; remove one",
    ),
    (
        {"exposures__shoeing": {}, "adjustments": ["fore_hind", "side", "method", "season", "shoeing"]},
        "adjustments, item 5: 'shoeing' is already an exposure; a variable is one or the other: remove it here or "
        "there",
    ),
    (
        {"interactions": ["diet"]},
        "interactions, item 1: found 'diet'; it must be a pair in brackets of its own, such as [[diet, fore_hind]]",
    ),
    (
        {"interactions": [["diet", "sex"]]},
        "interactions, item 1, item 2: found 'sex'; allowed (the model's variables): diet, terrain, ",
    ),
    (
        {"interactions": [["diet"]]},
        "interactions, item 1: found ['diet']; an interaction is a pair of different variables, e.g. [diet, fore_hind]",
    ),
    (
        {"interactions": [["diet", "diet"]]},
        "interactions, item 1: found ['diet', 'diet']; an interaction is a pair of different variables",
    ),
    (
        {"interactions": [["diet", "side"], ["side", "diet"]]},
        "interactions, item 2: found ['side', 'diet']; the pair stands twice; remove one",
    ),
    (
        {"interactions": [["diet", "terrain"]]},
        "interactions, item 1: found ['diet', 'terrain']; both are shares of days, and the product of two shares ",
    ),
    (
        {"interactions": [["diet", "side"]], "outcomes__frog_ratio__adjustments": ["fore_hind"]},
        "outcomes.frog_ratio.interactions: the study's interactions do not fit this outcome: found 'side'; allowed ",
    ),
    ({"references__side": "lft"}, "references.side: found 'lft'; allowed: left, right; did you mean 'left'?"),
    ({"references__sex": "mare"}, "references.sex: is not among the adjustments; add it there or remove it here"),
    ({"references__diet": "hay"}, "references.diet: is an exposure; set exposures.diet.reference instead"),
    (
        {"references__age_years": "10"},
        "references.age_years: no adjustment of words: found 'age_years'; allowed: sex, ",
    ),
    ({"levels": []}, "levels: found nothing in it; fill it in: Nested groupings"),
    ({"levels": ["yard", "horse", "hoof"]}, "levels, item 3: found 'hoof'; allowed: yard, horse, foot"),
    (
        {"levels": ["horse", "yard", "foot"]},
        "levels: found horse, yard, foot; levels stand outermost first, each once: yard, horse, foot",
    ),
    (
        {"levels": ["yard", "horse", "horse"]},
        "levels: found yard, horse, horse; levels stand outermost first, each once: yard, horse, foot",
    ),
    (
        {"levels": ["yard", "foot"], "also": []},
        "levels: found yard, foot; 'horse' must be one: the four feet of a horse are not four horses",
    ),
    ({"also": ["horse:day"]}, "also, item 1: found 'horse:day'; allowed: yard:visit, horse:visit, foot:visit"),
    ({"also": ["horse:visit"] * 2}, "also, item 2: 'horse:visit' stands twice; remove one"),
    (
        {"levels": ["horse", "foot"], "also": ["yard:visit"]},
        "also, item 1: 'yard:visit' is a grouping inside yard, and yard is not among the levels (horse, foot); ",
    ),
    (
        {"also": ["foot:visit"], "outcomes__frog_ratio__levels": ["yard", "horse"]},
        "outcomes.frog_ratio.levels: 'foot:visit' is a grouping inside foot, and foot is not among the levels (yard, ",
    ),
    ({"crossed": ["age_years"]}, "crossed, item 1: found 'age_years'; allowed: sex, breed_group, fore_hind, side, "),
    ({"crossed": ["farrier"]}, "crossed, item 1: found 'farrier'; allowed: sex, breed_group, fore_hind, side, "),
    ({"crossed": ["farrier_id"] * 2}, "crossed, item 2: 'farrier_id' stands twice; remove one"),
    (
        {"exposures__shoeing": {}, "crossed": ["shoeing"]},
        "crossed, item 1: 'shoeing' is already an exposure, whose differences are estimated one by one; remove it here",
    ),
    (
        {"crossed": ["farrier_id", "observer_id"]},
        "crossed, item 2: 'observer_id' is both an adjustment and a crossed factor; it is one or the other: remove it",
    ),
    (
        {"crossed": ["farrier_id"], "outcomes__frog_ratio__adjustments": ["age_years", "farrier_id"]},
        "outcomes.frog_ratio.adjustments, item 2: 'farrier_id' is both an adjustment and a crossed factor; it is one ",
    ),
    (
        {"outcomes__frog_ratio__crossed": ["observer_id"]},
        "outcomes.frog_ratio.crossed, item 1: 'observer_id' is both an adjustment and a crossed factor; it is one or ",
    ),
    ({"minimum_coverage": 0}, "minimum_coverage: found 0; allowed: above 0 to 1"),
    ({"minimum_coverage": "0.8"}, "minimum_coverage: found '0.8'; it must be a number"),
    ({"confidence": 95}, "confidence: found 95; allowed: from 0.5 below 1"),
    ({"confidence": float("nan")}, "confidence: found nan; it must be a finite number"),
    (
        {"multiplicity": {"method": "hom"}},
        "multiplicity.method: found 'hom'; allowed: holm, none; did you mean 'holm'?",
    ),
]


@pytest.mark.parametrize(("places", "message"), ONE_FAULT, ids=[message.split(":")[0] for _, message in ONE_FAULT])
def test_one_fault_gives_one_line_that_says_what_to_do(places, message):
    told = faults(**places)
    assert len(told) == 1, told
    assert told[0].startswith(message)


def test_an_outcome_may_have_crossed_factors_of_its_own():
    own = {"role": "secondary", "adjustments": ["age_years"], "crossed": ["observer_id"]}
    plan = parse_plan(changed(crossed=["farrier_id"], outcomes__frog_ratio=own))
    assert plan.for_outcome("frog_ratio").crossed == ["observer_id"]
    assert plan.for_outcome("heel_underrun_deg").crossed == ["farrier_id"]


def test_shares_may_interact_with_numbers_factors_and_an_exposure_as_of_the_day():
    parse_plan(changed(interactions=[["diet", "age_years"], ["diet", "trim_interval_days"], ["fore_hind", "terrain"]]))
    parse_plan(changed(interactions=[["diet", "terrain"]], exposures__terrain__form="as_of"))
    told = faults(
        interactions=[["diet", "terrain"]],
        exposures__terrain__form="as_of",
        outcomes__frog_ratio__exposures={"terrain": {"form": "share"}},
    )
    assert len(told) == 1
    assert told[0].startswith(
        "outcomes.frog_ratio.interactions: the study's interactions do not fit this outcome: found"
    )


def test_a_secondary_outcome_needs_no_comparison_and_a_slope_no_values():
    plan = parse_plan(
        changed(
            outcomes__frog_ratio__comparison=...,
            outcomes__frog_width_mm__comparison={"exposure": "trim_interval_days"},
        )
    )
    assert plan.for_outcome("frog_width_mm").comparison.first is None


def test_a_misspelt_key_is_one_fault_and_what_is_below_it_is_checked_all_the_same():
    value = changed(exposures=...)
    value["exposurs"] = RAW["exposures"] | {"diet": {"form": "share", "reference": "haay"}}
    with pytest.raises(PlanError) as caught:
        parse_plan(value)
    told = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in told] == ["exposurs", "exposures.diet.reference"]
    assert told[0].endswith("did you mean 'exposures'?")


# Pairs of faults of different kinds: together they are told as they are told alone, none hides the other.
@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(ONE_FAULT), min_size=2, max_size=2))
def test_faults_in_different_places_are_all_told(pair):
    (first, _), (second, _) = pair
    roots = [{place.split("__")[0] for place in places} for places in (first, second)]
    tied = {"exposures", "adjustments", "interactions", "references", "outcomes", "levels", "also", "crossed"}
    misspelt = {"title", "titel"} <= roots[0] | roots[1]  # the second stands for the first, which is then not missing
    if misspelt or roots[0] & roots[1] or (roots[0] & tied and roots[1] & tied):
        return
    assert sorted(faults(**first, **second)) == sorted(faults(**first) + faults(**second))


JSON = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["diet", "horse", "hay"]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3) | st.integers(0, 3), inner, max_size=3)
    ),
    max_leaves=6,
)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(sorted(RAW)), JSON), min_size=1, max_size=4))
def test_whatever_stands_in_a_plan_it_is_read_or_refused_in_words(changes):
    value = deepcopy(RAW) | dict(changes)
    try:
        plan = parse_plan(value)
    except PlanError as error:
        assert str(error)
    else:
        assert plan.for_outcome(next(iter(plan.outcomes)))


def test_importing_the_plan_imports_nothing_heavy():
    code = (
        "import sys, hoofcohort.plan as plan; plan.load_plan(sys.argv[1]); "
        "print([name for name in ('pandas', 'numpy', 'scipy', 'pyarrow', 'pandera') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, DEMO], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
