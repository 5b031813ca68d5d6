"""Write the validated plan into the run's folder, whole, every default spelt out.

REQUIRED INPUTS

    the study's plan (YAML)

OUTPUTS

    reports/{study}/plan.json
"""


rule check_plan:
    """Validate a plan and write it out whole."""
    input:
        plan=lambda wildcards: STUDIES[wildcards.study].path,
    output:
        plan="reports/{study}/plan.json",
    params:
        source=source_digest("check-plan"),
    log:
        "reports/{study}/logs/check_plan.log",
    benchmark:
        "reports/{study}/benchmarks/check_plan.tsv"
    threads: 1
    message:
        "{wildcards.study}: write the plan out whole"
    shell:
        "hoofcohort check-plan {input.plan:q} --out {output.plan:q} 2>&1 | tee {log:q} >&2"
