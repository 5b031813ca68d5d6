"""Write the study report from the results of all its outcomes.

REQUIRED INPUTS

    everything that the stages before wrote into reports/{study}/, and the cut-offs

OUTPUTS

    reports/{study}/report.html         one file, works offline
    reports/{study}/figures/*.svg
    reports/{study}/tables/*.csv
    reports/{study}/manifest.json       hashes and versions
"""


rule report:
    """Write the report, its figures and its tables."""
    input:
        run=expand("reports/{{study}}/{name}", name=["plan.json", "ledger.json", "rejects.csv", "flags.csv"]),
        tables=expand("reports/{{study}}/data/{table}.parquet", table=["horses", "management", "readings"]),
        fits=lambda wildcards: expand(
            rules.fit_outcome.output, study=wildcards.study, outcome=STUDIES[wildcards.study].outcomes
        ),
        cutoffs=lambda wildcards: STUDIES[wildcards.study].plan.cutoffs,
    output:
        page="reports/{study}/report.html",
        folders=[directory("reports/{study}/figures"), directory("reports/{study}/tables")],
        manifest="reports/{study}/manifest.json",
    params:
        source=source_digest("report"),
    log:
        "reports/{study}/logs/report.log",
    benchmark:
        "reports/{study}/benchmarks/report.tsv"
    threads: 1
    message:
        "{wildcards.study}: write the report"
    shell:
        "hoofcohort report --run-dir reports/{wildcards.study:q} --out {output.page:q} "
        "2>&1 | tee {log:q} >&2"
