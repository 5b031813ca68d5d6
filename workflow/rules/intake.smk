"""Accept or reject every row of the three CSV files.

REQUIRED INPUTS

    the CSV files that the study's plan names

OUTPUTS

    reports/{study}/ledger.json         the account of every row
    reports/{study}/rejects.csv         rows kept out, with the reason and the remedy
    reports/{study}/flags.csv           implausible values, kept
    reports/{study}/data/*.parquet      the accepted rows, typed
"""


rule intake:
    """Check every row and keep the account."""
    input:
        horses=lambda wildcards: STUDIES[wildcards.study].plan.data.horses,
        management=lambda wildcards: STUDIES[wildcards.study].plan.data.management,
        feet=lambda wildcards: STUDIES[wildcards.study].plan.data.feet,
    output:
        accounts=expand("reports/{{study}}/{name}", name=["ledger.json", "rejects.csv", "flags.csv"]),
        tables=expand("reports/{{study}}/data/{table}.parquet", table=["horses", "management", "feet"]),
    params:
        as_of=lambda wildcards: STUDIES[wildcards.study].as_of_option,
        folder=lambda wildcards: f"reports/{wildcards.study}",
        source=source_digest("intake"),
    log:
        "reports/{study}/logs/intake.log",
    benchmark:
        "reports/{study}/benchmarks/intake.tsv"
    threads: 1
    message:
        "{wildcards.study}: accept or reject every row"
    shell:
        "hoofcohort intake --horses {input.horses:q} --management {input.management:q} "
        "--feet {input.feet:q} {params.as_of:q} --out-dir {params.folder:q} 2>&1 | tee {log:q} >&2"
