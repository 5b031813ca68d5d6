"""Who is in the cohort: by exposure, and how the levels sit in each other."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from hoofcohort.plan import OutcomeSettings, Plan
from hoofcohort.planning.vocabulary import management_columns
from hoofcohort.privacy.joint import Mask, few, withhold
from hoofcohort.privacy.owners import count_owners, folded
from hoofcohort.privacy.small_numbers import WITHHELD, withheld_note
from hoofcohort.report.numbers import NOTHING, count, fixed, listing
from hoofcohort.report.run_folder import Run
from hoofcohort.report.sheet import Column, Record, Sheet, text
from hoofcohort.report.text.words import exposure_title, exposure_unit, upper_first
from hoofcohort.study.adjustments import Sources, adjustment_values

NOT_ON_RECORD = "not on record"
COUNTED = ("horses", "yards", "owners", "feet", "readings")
DESCRIBED = {"age": "age", "mass": "body_mass_kg"}
NUMBERS = (*COUNTED, "age_mean", "age_sd", "age_missing", "mass_mean", "mass_sd", "mass_missing")


def horse_table(run: Run) -> pd.DataFrame:
    """Return one row per horse with a reading: who it is, its age in years at its first visit, its number of readings.

    Age is that of the models: it counts from 1 January of the birth year, as only the year is known.
    """
    grouped = run.readings.groupby("horse_id", sort=True)
    per_horse = pd.DataFrame(
        {
            "first_visit": grouped["visit_date"].min(),
            "readings": grouped.size(),
            "feet": grouped["foot"].nunique(),
            "visits": grouped["visit_date"].nunique(),
        }
    )
    table = per_horse.join(run.horses.set_index("horse_id"), how="left")
    first = table.rename(columns={"first_visit": "visit_date"})
    table["age"] = adjustment_values(["age_years"], Sources(first, table, table))["age_years"]
    return table.reset_index()


def exposure_of_horses(run: Run, name: str) -> pd.Series:
    """Return the group of each horse (index ``horse_id``): its most frequent word, or the third of its mean.

    Words: the word with the most days over the study's window, averaged over the horse's readings; the first one when
    two are equal. Numbers: thirds of the horses by their mean. An exposure that the plan takes on the day of the visit
    counts by its value on the days of the readings. Nothing on record: ``not on record``.
    """
    windows = run.windows
    horse, words = run.readings["horse_id"], management_columns()[name]
    day = run.plan.exposures[name].form == "as_of"
    if words is None:
        return _thirds(windows[name if day else f"{name}__mean"].groupby(horse, sort=True).mean(), exposure_unit(name))
    if day:
        shares = pd.DataFrame(
            {word: (windows[name] == word).where(windows[name].notna()) for word in words}, dtype=float
        )
    else:
        shares = windows[[f"{name}__{word}" for word in words]].set_axis(words, axis=1)
    return _most_days(shares.groupby(horse, sort=True).mean())


def _most_days(shares: pd.DataFrame) -> pd.Series:
    known = shares.dropna(how="all")
    word = known.idxmax(axis=1) if len(known) else pd.Series(dtype="str")
    return word.reindex(shares.index).fillna(NOT_ON_RECORD)


def _thirds(mean: pd.Series, unit: str) -> pd.Series:
    """Return labels such as ``28 to 42 days``: thirds of the horses by rank, equal values kept together."""
    known = mean.dropna()
    third = (known.rank(method="min", pct=True) * 3 - 1e-9).floordiv(1).clip(0, 2) if len(known) else known
    limits = known.groupby(third).agg(["min", "max"])
    labels = {place: _range_label(row["min"], row["max"], unit) for place, row in limits.iterrows()}
    return third.map(labels).reindex(mean.index).fillna(NOT_ON_RECORD)


def _range_label(low: float, high: float, unit: str) -> str:
    first, last = f"{low:.3g}", f"{high:.3g}"
    return f"{first} {unit}" if first == last else f"{first} to {last} {unit}"


def cohort_records(run: Run) -> list[dict[str, Any]]:
    """Return one record per group of each exposure, and one for the whole cohort."""
    horses = horse_table(run)
    groups = {name: _groups(run, name, horses) for name in run.plan.exposures}
    return publishable(horses, groups, run.plan.fewest_owners)


def _groups(run: Run, name: str, horses: pd.DataFrame) -> dict[str, Mask]:
    of_horse = horses["horse_id"].map(exposure_of_horses(run, name)).fillna(NOT_ON_RECORD)
    found = {group: (of_horse == group).to_numpy() for group in _order(name, of_horse)}
    return {group: mask for group, mask in found.items() if mask.any()}


def publishable(horses: pd.DataFrame, groups: Mapping[str, Mapping[str, Mask]], fewest: int) -> list[dict[str, Any]]:
    """Return one record for all horses and one per group, without what rests on few owners or would tell of such.

    Parameters
    ----------
    horses : DataFrame
        As from ``horse_table``.
    groups : mapping of str to mapping of str to boolean array
        Per exposure its groups, each with its horses.
    fewest : int
        Owners that a published number must rest on.
    """
    bare = [
        key for key, column in DESCRIBED.items() if few(horses.loc[horses[column].notna(), "owner_id"].tolist(), fewest)
    ]
    gone = _withheld(horses, groups, fewest, bare)
    hidden = {f"{key}_{what}": WITHHELD for key in bare for what in ("mean", "sd", "missing")}
    records = [{"exposure": "", "group": "all horses", **_describe(horses), **hidden}]
    nothing = dict.fromkeys(NUMBERS, WITHHELD)
    for name, own in groups.items():
        if own and all(gone[name]):
            records.append({"exposure": name, "group": WITHHELD, **nothing})
            continue
        for (group, mask), out in zip(own.items(), gone[name], strict=True):
            numbers = nothing if out else _describe(horses[mask]) | hidden
            records.append({"exposure": name, "group": group, **numbers})
    return records


def _withheld(
    horses: pd.DataFrame, groups: Mapping[str, Mapping[str, Mask]], fewest: int, bare: Sequence[str]
) -> dict[str, list[bool]]:
    """Tell per exposure which groups to withhold: looked at together, as all horses and as those with age or mass."""
    gone = {name: [False] * len(own) for name, own in groups.items()}
    known = [horses[column].notna().to_numpy() for key, column in DESCRIBED.items() if key not in bare]
    for there in (np.ones(len(horses), dtype=bool), *known):
        sets = {name: [mask[there] for mask in own.values()] for name, own in groups.items()}
        found = withhold(sets, horses.loc[there, "owner_id"].tolist(), fewest)
        gone = {name: [a or b for a, b in zip(own, found[name], strict=True)] for name, own in gone.items()}
    return gone


def _order(name: str, groups: pd.Series) -> list[str]:
    """Return the groups in the declared order of the words, or by their lower limit; ``not on record`` last."""
    found = [group for group in groups.unique() if group != NOT_ON_RECORD]
    words = management_columns().get(name)
    key: Callable[[str], Any] = words.index if words else (lambda group: float(group.split(" ")[0]))
    return [*sorted(found, key=key), NOT_ON_RECORD]


def _describe(horses: pd.DataFrame) -> dict[str, Any]:
    age, mass = (horses[DESCRIBED[key]] for key in ("age", "mass"))
    return {
        "horses": len(horses),
        "yards": horses["yard_id"].nunique(),
        "owners": count_owners(horses["owner_id"]),
        "feet": int(horses["feet"].sum()),
        "readings": int(horses["readings"].sum()),
        "age_mean": float(age.mean()),
        "age_sd": float(age.std()),
        "age_missing": int(age.isna().sum()),
        "mass_mean": float(mass.mean()),
        "mass_sd": float(mass.std()),
        "mass_missing": int(mass.isna().sum()),
    }


def cohort_sheet(run: Run) -> Sheet:
    """Return the cohort by exposure."""
    return Sheet(
        "cohort",
        f"The cohort by exposure.{_where_horses_stand(run.plan)}",
        ("exposure", "group", *NUMBERS),
        cohort_records(run),
        (
            Column("Group", text("group"), number=False),
            *(Column(name.capitalize(), _count_of(name)) for name in COUNTED),
            Column("Age, years: mean (SD)", _mean_sd("age", 1)),
            Column("Age missing", _count_of("age_missing")),
            Column("Body mass, kg: mean (SD)", _mean_sd("mass", 0)),
            Column("Mass missing", _count_of("mass_missing")),
        ),
        "Age at the first visit, from 1 January of the birth year. Missing: number of horses. A yard or an owner with "
        "horses in several groups is counted in each. Numbers are divided into thirds of the horses; horses with the "
        f"same value stay together, so the thirds need not be equal. {withheld_note(run.plan.fewest_owners)}",
        marked=lambda record: not record["exposure"],
        group=_by_exposure,
    )


def _where_horses_stand(plan: Plan) -> str:
    """Return how horses came into the groups of word exposures; empty without one."""
    words = [name for name in plan.exposures if management_columns()[name] is not None]
    by_form = {day: [n for n in words if (plan.exposures[n].form == "as_of") == day] for day in (False, True)}
    places = {False: "it spent most days of the window", True: "it most often was on the days of its readings"}
    told = [
        f" A horse stands in the group in which {places[day]}{_for(names, words)}."
        for day, names in by_form.items()
        if names
    ]
    return "".join(told)


def _for(names: list[str], words: list[str]) -> str:
    return "" if names == words else f" ({listing([exposure_title(name) for name in names])})"


def _by_exposure(record: Record) -> str:
    return upper_first(exposure_title(record["exposure"])) if record["exposure"] else "Whole cohort"


def _count_of(key: str) -> Callable[[Record], str]:
    return lambda record: WITHHELD if record[key] == WITHHELD else count(record[key])


def _mean_sd(key: str, decimals: int) -> Callable[[Record], str]:
    def show(record: Record) -> str:
        mean, sd = record[f"{key}_mean"], record[f"{key}_sd"]
        if mean == WITHHELD:
            return WITHHELD
        return NOTHING if mean != mean else f"{fixed(mean, decimals)} ({fixed(sd, decimals)})"

    return show


def levels_sheet(run: Run) -> Sheet:
    """Return the levels of organisation: how many groups, and how many of the next lower ones each holds."""
    horses = horse_table(run)
    pairs = [
        ("yard", "horses per yard", horses.groupby("yard_id").size()),
        ("owner", "horses per owner", horses.groupby(horses["owner_id"].map(folded, na_action="ignore")).size()),
        ("horse", "feet per horse", horses["feet"]),
        ("horse", "visits per horse", horses["visits"]),
        ("foot", "readings per foot", run.readings.groupby(["horse_id", "foot"]).size()),
        ("observer", "readings per observer", run.readings.groupby("observer_id").size()),
    ]
    records = [
        {
            "level": level,
            "what": what,
            "groups": len(sizes),
            "least": int(sizes.min()) if len(sizes) else None,
            "median": float(sizes.median()) if len(sizes) else None,
            "most": int(sizes.max()) if len(sizes) else None,
        }
        for level, what, sizes in pairs
    ]
    return Sheet(
        "levels",
        "Levels of organisation: what each level holds.",
        ("level", "what", "groups", "least", "median", "most"),
        records,
        (
            Column("Level", text("level"), number=False),
            Column("Groups", _count_of("groups")),
            Column("What is counted", text("what"), number=False),
            Column("Least", _count_of("least")),
            Column("Median", lambda r: NOTHING if r["median"] is None else f"{r['median']:g}"),
            Column("Most", _count_of("most")),
        ),
    )


def missing_sheet(run: Run) -> Sheet:
    """Return missing values per variable of the outcomes' models, among all accepted readings."""
    records: dict[tuple[str, str], dict[str, Any]] = {}
    for model in run.models.values():
        total = model["flow"][0]["readings"]
        for row in model["variables"]:
            without = row["missing"] + (row["short"] or 0)
            records.setdefault((row["name"], row["form"]), {**row, "without": without, "of": total})
    windowed = any(row["short"] is not None for row in records.values())
    return Sheet(
        "missing",
        "Missing values of exposures and adjustments, among all accepted readings.",
        ("name", "role", "form", "missing", "short", "without", "of"),
        list(records.values()),
        (
            Column("Variable", _with_form, number=False),
            Column("Role", text("role"), number=False),
            Column("Not on record", _count_of("missing")),
            *([Column("On record, on too few days", _count_of("short"))] if windowed else []),
            Column("Readings without it", _count_of("without")),
            Column("Of", _count_of("of")),
        ),
        _missing_note(run.plan, windowed),
    )


def _with_form(record: Record) -> str:
    return upper_first(f"{record['title']}, {record['form']}" if record["form"] else record["title"])


def _missing_note(plan: Plan, windowed: bool) -> str:
    few = f"Too few days: on record for less than {100 * plan.minimum_coverage:g}% of the window. "
    return (
        f"{few if windowed else ''}A reading without one of them is left out of the adjusted model. One that lacks "
        "several stands in several rows here; the flow above counts it once, at the first step that it fails, and "
        "after the readings without the outcome."
    )


def left_out_levels(settings: OutcomeSettings, analysis: pd.DataFrame) -> list[str]:
    """Return the levels that the analysed readings have and the plan leaves out.

    A yard, horse or foot counts when one of them has several readings of several groups below it; the visits of a horse
    when horses come several times and several feet are read on one day.
    """
    foot = analysis[["horse_id", "foot"]].drop_duplicates()
    visit = analysis[["horse_id", "visit_date"]].drop_duplicates()
    feet_at_visit = analysis[["horse_id", "visit_date", "foot"]].drop_duplicates()
    horse = analysis[["yard_id", "horse_id"]].drop_duplicates()
    several = {
        "yard": len(horse) > horse["yard_id"].nunique(),
        "horse": len(foot) > len(horse),
        "foot": len(feet_at_visit) > len(foot),
        "horse:visit": len(feet_at_visit) > len(visit) > len(horse),
    }
    planned = {*settings.levels, *settings.also}
    return [level for level, has in several.items() if has and level not in planned]


def yards_with_contrast(run: Run, name: str) -> tuple[int, int]:
    """Return in how many yards horses differ in their group of an exposure, and the number of yards."""
    groups = exposure_of_horses(run, name)
    table = horse_table(run).assign(group=lambda frame: frame["horse_id"].map(groups))
    known = table[table["group"] != NOT_ON_RECORD]
    return int(known.groupby("yard_id")["group"].nunique().gt(1).sum()), table["yard_id"].nunique()
