"""Fit an outcome's adjusted model from statistics of parts of its rows, one job a part. On demand, for a large cohort:

    snakemake --cores 2 reports/<study>/pooled/<outcome>.json
    snakemake --cores 8 --set-scatter statistics=32 reports/<study>/pooled/<outcome>.json

Parts are cut between groups of the outermost level, so there can be no more of them than groups. Nothing leaves the
run, so a cell may rest on a single animal.

REQUIRED INPUTS

    reports/{study}/models/{outcome}.json           what the model is about
    reports/{study}/data/analysis/{outcome}.parquet

OUTPUTS

    reports/{study}/pooled/{outcome}.json           the fit, like the model's own
"""


scattergather:
    statistics=4,


rule statistics_specification:
    """Write down what the statistics of every part are about."""
    input:
        model="reports/{study}/models/{outcome}.json",
        analysis="reports/{study}/data/analysis/{outcome}.parquet",
    output:
        temp("reports/{study}/pooled/{outcome}/specification.json"),
    params:
        source=source_digest("statistics-make"),
    log:
        "reports/{study}/logs/statistics/{outcome}/specification.log",
    benchmark:
        "reports/{study}/benchmarks/statistics/{outcome}/specification.tsv"
    threads: 1
    message:
        "{wildcards.study}: specify the statistics of {wildcards.outcome}"
    shell:
        "hoofcohort statistics-make {input.analysis:q} --model {input.model:q} --only-specification "
        "--out {output:q} 2>&1 | tee {log:q} >&2"


rule statistics_make:
    """Summarise one part of the rows."""
    input:
        specification="reports/{study}/pooled/{outcome}/specification.json",
        analysis="reports/{study}/data/analysis/{outcome}.parquet",
    output:
        temp("reports/{study}/pooled/{outcome}/{scatteritem}.json"),
    params:
        source=source_digest("statistics-make"),
    log:
        "reports/{study}/logs/statistics/{outcome}/{scatteritem}.log",
    benchmark:
        "reports/{study}/benchmarks/statistics/{outcome}/{scatteritem}.tsv"
    threads: 1
    wildcard_constraints:
        scatteritem=r"\d+-of-\d+",
    message:
        "{wildcards.study}: summarise {wildcards.outcome}, part {wildcards.scatteritem}"
    shell:
        "hoofcohort statistics-make {input.analysis:q} --like {input.specification:q} "
        "--part {wildcards.scatteritem:q} --minimum 1 --out {output:q} 2>&1 | tee {log:q} >&2"


rule statistics_merge:
    """Merge the parts."""
    input:
        gather.statistics("reports/{{study}}/pooled/{{outcome}}/{scatteritem}.json"),
    output:
        temp("reports/{study}/pooled/{outcome}/all.json"),
    params:
        source=source_digest("statistics-merge"),
    log:
        "reports/{study}/logs/statistics/{outcome}/merge.log",
    benchmark:
        "reports/{study}/benchmarks/statistics/{outcome}/merge.tsv"
    threads: 1
    message:
        "{wildcards.study}: merge the statistics of {wildcards.outcome}"
    shell:
        "hoofcohort statistics-merge {input:q} --out {output:q} 2>&1 | tee {log:q} >&2"


rule statistics_fit:
    """Fit the merged statistics."""
    input:
        "reports/{study}/pooled/{outcome}/all.json",
    output:
        "reports/{study}/pooled/{outcome}.json",
    params:
        confidence=lambda wildcards: STUDIES[wildcards.study].plan.confidence,
        source=source_digest("statistics-fit"),
    log:
        "reports/{study}/logs/statistics/{outcome}/fit.log",
    benchmark:
        "reports/{study}/benchmarks/statistics/{outcome}/fit.tsv"
    threads: 1
    message:
        "{wildcards.study}: fit the statistics of {wildcards.outcome}"
    shell:
        "hoofcohort statistics-fit {input:q} --confidence {params.confidence:q} --out {output:q} "
        "2>&1 | tee {log:q} >&2"
