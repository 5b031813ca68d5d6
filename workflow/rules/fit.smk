"""Fit the models of one outcome: one job per outcome of each plan.

A fit is not repeated because the plan's file is newer (`ancient`), but because what this outcome takes from it has
changed, which `params.settings` carries. It reads the plan itself and not plan.json: Snakemake does not look at the
parameters of a job that follows, even by an `ancient` file, from a job about to run.

REQUIRED INPUTS

    the study's plan (YAML)
    reports/{study}/data/readings.parquet, horses.parquet, management.parquet

OUTPUTS

    reports/{study}/models/{outcome}.json
    reports/{study}/data/analysis/{outcome}.parquet
    reports/{study}/data/effects/{outcome}.parquet
"""


rule fit_outcome:
    """Fit one outcome's models."""
    input:
        plan=ancient(lambda wildcards: STUDIES[wildcards.study].path),
        readings="reports/{study}/data/readings.parquet",
        horses="reports/{study}/data/horses.parquet",
        management="reports/{study}/data/management.parquet",
    output:
        model="reports/{study}/models/{outcome}.json",
        analysis="reports/{study}/data/analysis/{outcome}.parquet",
        effects="reports/{study}/data/effects/{outcome}.parquet",
    params:
        settings=lambda wildcards: STUDIES[wildcards.study].settings[wildcards.outcome],
        source=source_digest("fit-outcome"),
    log:
        "reports/{study}/logs/fit_outcome/{outcome}.log",
    benchmark:
        "reports/{study}/benchmarks/fit_outcome/{outcome}.tsv"
    threads: 1
    message:
        "{wildcards.study}: fit {wildcards.outcome}"
    shell:
        "hoofcohort fit-outcome --plan {input.plan:q} --outcome {wildcards.outcome:q} "
        "--readings {input.readings:q} --horses {input.horses:q} --management {input.management:q} "
        "--out {output.model:q} --analysis-out {output.analysis:q} --effects-out {output.effects:q} "
        "2>&1 | tee {log:q} >&2"
