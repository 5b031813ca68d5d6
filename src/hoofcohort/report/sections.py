"""The report's sections, in order, each from a run's results."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from hoofcohort.report.blocks import Block, Code, Items, Paragraph, Part, shown
from hoofcohort.report.family import adjusted_p, family_size
from hoofcohort.report.figures.distributions import all_distributions, distribution_figure
from hoofcohort.report.figures.flow import flow_figure
from hoofcohort.report.figures.raw import dots_shown
from hoofcohort.report.numbers import of_things
from hoofcohort.report.outcome_section import outcome_part, refused_part, refused_sentence
from hoofcohort.report.run_folder import Run
from hoofcohort.report.sheet import Column, Sheet, text
from hoofcohort.report.sheets.cohort import (
    cohort_sheet,
    left_out_levels,
    levels_sheet,
    missing_sheet,
    yards_with_contrast,
)
from hoofcohort.report.sheets.flow import counts_of, flags_sheet, flow_sheet, intake_sheet, rejects_sheet
from hoofcohort.report.sheets.measures import (
    cutoffs_sheet,
    definitions_sheet,
    measured_by_few,
    measures_sheet,
    number_columns,
)
from hoofcohort.report.sheets.outcome import family_sheet
from hoofcohort.report.sheets.plan import exposures_sheet, outcomes_sheet
from hoofcohort.report.text.cohort import (
    accepted_sentence,
    contrast_sentence,
    intake_sentences,
    small_cohort_sentences,
)
from hoofcohort.report.text.findings import effects_of_interest, finding
from hoofcohort.report.text.methods import CAUTIONS, limitations, methods_sentences
from hoofcohort.report.text.plan import (
    data_sentence,
    leaves_out_sentence,
    multiplicity_sentence,
    plan_sentences,
    written_sentence,
)
from hoofcohort.report.text.words import upper_first
from hoofcohort.study.multiplicity import family_table


@dataclass(frozen=True)
class Study:
    """A run with what several sections need of it."""

    run: Run

    @cached_property
    def counts(self) -> dict[str, int]:
        """Owners, yards, horses, feet and readings accepted."""
        return counts_of(self.run.readings, self.run.horses)

    @cached_property
    def family(self) -> list[dict[str, Any]]:
        """The declared family of tests."""
        return family_table(list(self.run.models.values()), self.run.plan)

    @cached_property
    def contrasts(self) -> dict[str, tuple[int, int]]:
        """Per exposure: yards in which horses differ in it, and yards."""
        return {name: yards_with_contrast(self.run, name) for name in self.run.plan.exposures}

    @cached_property
    def left_out(self) -> dict[str, list[str]]:
        """Per outcome: levels that its readings have and the plan leaves out."""
        run = self.run
        return {name: left_out_levels(run.plan.for_outcome(name), run.analysis[name]) for name in run.models}


def sections(run: Run, hashes: Sequence[Mapping[str, str]], versions: Mapping[str, str]) -> list[Part]:
    """Return all sections."""
    study = Study(run)
    fewest, dots = run.plan.fewest_owners, dots_shown(run.models.values())
    outcomes = [
        refused_part(run.refused[name])
        if name in run.refused
        else outcome_part(run.models[name], run.analysis[name], run.effects[name], fewest, dots=dots)
        for name in run.plan.outcomes
    ]
    return [
        _findings(study),
        _plan(study),
        _flow(study),
        _cohort(study),
        _measures(study),
        Part("outcomes", "Outcomes", outcomes),
        _multiplicity(study),
        _limitations(study),
        Part("cautions", "Cautions", [Items(CAUTIONS)]),
        Part(
            "methods",
            "Methods",
            [*(Paragraph(line) for line in methods_sentences(run.plan)), *shown(definitions_sheet())],
        ),
        provenance(run.plan.study, hashes, versions),
    ]


def facts(run: Run) -> list[tuple[str, str]]:
    """Return the head's facts."""
    counts = counts_of(run.readings, run.horses)
    return [
        ("Plan fixed on", run.plan.written.isoformat()),
        ("Accepted readings", str(counts["readings"])),
        ("Horses", str(counts["horses"])),
        ("Yards", str(counts["yards"])),
        ("Owners", str(counts["owners"])),
    ]


def _findings(study: Study) -> Part:
    run, blocks = study.run, []
    for role, title in (("primary", "Primary outcomes"), ("secondary", "Secondary outcomes")):
        names = [name for name, own in run.plan.outcomes.items() if own.role == role]
        if names:
            parts = [block for name in names for block in _one_finding(study, name)]
            blocks.append(Part(f"findings-{role}", title, parts, listed=False))
    closing = "These are associations in one cohort, not what a change of keeping would do to a horse."
    return Part("findings", "Main findings", [*blocks, Paragraph(closing)])


def _one_finding(study: Study, name: str) -> list[Block]:
    if name in study.run.refused:
        return [Paragraph(refused_sentence(study.run.refused[name]), "lead")]
    model = study.run.models[name]
    effects = effects_of_interest(model)
    p = adjusted_p(study.family, name, effects[0]["exposure"]) if effects else None
    first, *rest = finding(model, p, family_size(study.family), study.run.plan.multiplicity.method)
    rest += [leaves_out_sentence(level) for level in study.left_out[name]]
    return [Paragraph(first, "lead"), Paragraph(" ".join(rest), "basis")] if rest else [Paragraph(first, "lead")]


def _plan(study: Study) -> Part:
    plan = study.run.plan
    return Part(
        "plan",
        "The plan as declared",
        [
            Paragraph(f"{written_sentence(plan)} {data_sentence(plan)}"),
            *shown(outcomes_sheet(plan), exposures_sheet(plan)),
            Items(plan_sentences(plan)),
        ],
    )


def _flow(study: Study) -> Part:
    run = study.run
    return Part(
        "flow",
        "Flow of horses and readings",
        [
            Paragraph(" ".join(intake_sentences(run.ledger))),
            Paragraph(accepted_sentence(study.counts, len(run.horses))),
            *shown(
                flow_figure(run.ledger, study.counts, list(run.models.values())),
                intake_sheet(run.ledger),
                rejects_sheet(run.ledger),
                flags_sheet(run),
                flow_sheet(run),
            ),
        ],
    )


def _cohort(study: Study) -> Part:
    small = small_cohort_sentences(study.counts, study.run.plan.fewest_owners)
    return Part(
        "cohort",
        "Who is in the cohort",
        [
            *([Items(small, "warn")] if small else []),
            *shown(levels_sheet(study.run), cohort_sheet(study.run)),
            Paragraph(contrast_sentence(study.contrasts)),
            *shown(missing_sheet(study.run)),
        ],
    )


def _measures(study: Study) -> Part:
    run = study.run
    hidden = measured_by_few(run)
    outcomes = [name for name in run.models if name not in hidden]
    names = [name for name in number_columns(run.readings) if name not in hidden]
    figure = distribution_figure(run.readings, outcomes, run.cutoffs) if outcomes else None
    small = all_distributions(run.readings, names) if names else None
    blocks = shown(figure, measures_sheet(run), small, cutoffs_sheet(run))
    return Part("measures", "Measurements and indices", blocks)


def _multiplicity(study: Study) -> Part:
    plan = study.run.plan
    titles = {name: model["outcome"]["title"] for name, model in study.run.models.items()}
    count = family_size(study.family)
    return Part(
        "multiplicity",
        "Several tests taken together",
        [
            Paragraph(f"{multiplicity_sentence(plan)} The family has {of_things(count, 'test')}."),
            *shown(family_sheet(study.family, titles, plan.multiplicity.method)),
        ],
    )


def _limitations(study: Study) -> Part:
    left_out = list(dict.fromkeys(level for levels in study.left_out.values() for level in levels))
    lines = limitations(study.run.plan, study.run.models, study.contrasts, left_out)
    return Part("limitations", "Limitations", [Items(lines)])


def provenance(study: str, hashes: Sequence[Mapping[str, str]], versions: Mapping[str, str]) -> Part:
    """Return the section that says what the report was made from and how to make it again."""
    files = Sheet(
        "files",
        "Files that went into this report.",
        ("file", "role", "sha256"),
        list(hashes),
        (
            Column("File", text("file"), number=False),
            Column("What", text("role"), number=False),
            Column("SHA-256", text("sha256"), number=False),
        ),
        "input: as named in the plan; run: in the run's folder. What the report wrote is listed in manifest.json.",
    )
    packages = Sheet(
        "versions",
        "Versions.",
        ("name", "version"),
        [{"name": name, "version": number} for name, number in versions.items()],
        (Column("Program", text("name"), number=False), Column("Version", text("version"), number=False)),
    )
    how = (
        "From the project's folder, with the plan listed in config/config.yaml, the first line makes everything again; "
    )
    how += "the second this report alone, from the results in the run's folder."
    code = f"snakemake --cores 2\nhoofcohort report --run-dir reports/{study}"
    return Part("provenance", "Provenance", [Paragraph(upper_first(how)), Code(code), *shown(packages, files)])
