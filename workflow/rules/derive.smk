"""Compute the indices of every accepted reading.

REQUIRED INPUTS

    reports/{study}/data/feet.parquet, horses.parquet

OUTPUTS

    reports/{study}/data/readings.parquet
"""


rule derive:
    """Turn measurements into indices."""
    input:
        feet="reports/{study}/data/feet.parquet",
        horses="reports/{study}/data/horses.parquet",
    output:
        readings="reports/{study}/data/readings.parquet",
    params:
        source=source_digest("derive"),
    log:
        "reports/{study}/logs/derive.log",
    benchmark:
        "reports/{study}/benchmarks/derive.tsv"
    threads: 1
    message:
        "{wildcards.study}: compute the indices"
    shell:
        "hoofcohort derive --feet {input.feet:q} --horses {input.horses:q} "
        "--out {output.readings:q} 2>&1 | tee {log:q} >&2"
