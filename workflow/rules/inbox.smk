"""Take in what members sent: one job a file, then all of them together. On demand, and for studies of what it makes:

    snakemake --cores 2 --config inbox=INBOX -- inbox

A file is read again when it or one of its mappings has changed. A first run of a large inbox is faster by the command
`hoofcohort inbox`, which starts no process for each file.

REQUIRED INPUTS

    the folder that the configuration names under `inbox`: <round>/<member>/<files>, and consent.csv

OUTPUTS

    reports/_inbox/parts/{part}.parquet and .json                   what is kept of each file
    reports/_inbox/horses.csv, management.csv, feet.csv             for a plan's `data`
    reports/_inbox/ledger.json, understood.json
    reports/_inbox/coordinator.html, coordinator.csv, suggestions.csv
    reports/_inbox/letters/                                         a page and a CSV file for each member
"""


rule inbox_file:
    """Read one member's file."""
    input:
        lambda wildcards: INBOX.files(wildcards.part),
    output:
        multiext(f"{INBOX_OUT}/parts/{{part}}", ".parquet", ".json"),
    params:
        file=lambda wildcards: INBOX.path(wildcards.part),
        digests=lambda wildcards: INBOX.digests(wildcards.part),
        as_of=INBOX.as_of_option,
        folder=lambda wildcards: f"{INBOX_OUT}/parts",
        source=source_digest("inbox-file"),
    log:
        f"{INBOX_OUT}/logs/inbox_file/{{part}}.log",
    benchmark:
        f"{INBOX_OUT}/benchmarks/inbox_file/{{part}}.tsv"
    threads: 1
    wildcard_constraints:
        part="[A-Za-z0-9-]+",
    message:
        "inbox: read {params.file}"
    shell:
        "hoofcohort inbox-file {params.file:q} --parts {params.folder:q} {params.as_of:q} 2>&1 | tee {log:q} >&2"


rule inbox:
    """Settle identity, rounds and consent, account for every row, and write the letters."""
    input:
        parts=expand(f"{INBOX_OUT}/parts/{{part}}{{kind}}", part=INBOX.sources, kind=[".parquet", ".json"]),
        consent=INBOX.files(),
    output:
        tables=expand(f"{INBOX_OUT}/{{table}}.csv", table=["horses", "management", "feet"]),
        accounts=expand(f"{INBOX_OUT}/{{name}}.json", name=["ledger", "understood"]),
        coordinator=expand(f"{INBOX_OUT}/{{name}}", name=["coordinator.html", "coordinator.csv", "suggestions.csv"]),
        letters=directory(f"{INBOX_OUT}/letters"),
    params:
        inbox=INBOX.folder,
        digests=INBOX.digests(),
        unread=INBOX.unread,
        as_of=INBOX.as_of_option,
        folder=lambda wildcards: f"{INBOX_OUT}/parts",
        out=lambda wildcards: INBOX_OUT,
        source=source_digest("inbox-gather"),
    log:
        f"{INBOX_OUT}/logs/inbox.log",
    benchmark:
        f"{INBOX_OUT}/benchmarks/inbox.tsv"
    threads: 1
    message:
        "inbox: settle and account for every row"
    shell:
        "hoofcohort inbox-gather {params.inbox:q} --parts {params.folder:q} --out {params.out:q} {params.as_of:q} "
        "2>&1 | tee {log:q} >&2"
