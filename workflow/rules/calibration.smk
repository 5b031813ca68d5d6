"""Count how often the engine's 95% intervals hold the truth, over invented cohorts. On demand, no part of a study:

    snakemake --cores 2 calibration

The table that the package carries (src/hoofcohort/report/calibration.csv) is a copy of this one's.

REQUIRED INPUTS

    none but the programs

OUTPUTS

    reports/_calibration/cells/{cell}.csv   one a cell
    reports/_calibration/calibration.csv    coverage by cell, level and method; its head says how it was made
    reports/_calibration/calibration.svg    the same as a figure
"""

from hoofcohort.calibration.cells import cells


rule calibrate_cell:
    """Count one cell."""
    input:
        programs=expand("src/hoofcohort/calibration/{name}.py", name=["cells", "cohorts", "coverage"]),
    output:
        "reports/_calibration/cells/{cell}.csv",
    params:
        source=source_digest("fit-outcome"),
    log:
        "reports/_calibration/logs/{cell}.log",
    benchmark:
        "reports/_calibration/benchmarks/{cell}.tsv"
    threads: 1
    message:
        "calibration: {wildcards.cell}"
    shell:
        "python -m hoofcohort.calibration cell {wildcards.cell:q} --out {output:q} "
        "2>&1 | tee {log:q} >&2"


rule calibration:
    """Join the cells to the table and draw the figure."""
    input:
        cells=expand("reports/_calibration/cells/{cell}.csv", cell=[cell.name for cell in cells()]),
        programs=expand("src/hoofcohort/calibration/{name}.py", name=["table", "figure"]),
    output:
        table="reports/_calibration/calibration.csv",
        figure="reports/_calibration/calibration.svg",
    log:
        "reports/_calibration/logs/calibration.log",
    benchmark:
        "reports/_calibration/benchmarks/calibration.tsv"
    threads: 1
    message:
        "calibration: table and figure"
    shell:
        "python -m hoofcohort.calibration table {input.cells:q} --out {output.table:q} --figure {output.figure:q} "
        "2>&1 | tee {log:q} >&2"
