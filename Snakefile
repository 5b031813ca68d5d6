"""From measurements of hooves, or members' files of them, to a study report for every plan in the configuration.

REQUIRED INPUTS

    the plans listed in config/config.yaml, and the three CSV files that each of them names

OUTPUTS

    reports/<study>/report.html and, beside it, everything that the report was made from
"""

import sys

from snakemake.utils import min_version

from hoofcohort.errors import HoofcohortError
from hoofcohort.inbox.configured import INBOX_OUT, load_inbox
from hoofcohort.workflow import load_studies, source_digest

min_version("9.20")


configfile: "config/config.yaml"


try:  # every fault of every plan, in the reader's words, before any job starts
    STUDIES, INBOX = load_studies(config), load_inbox(config)
except HoofcohortError as error:
    print(error, file=sys.stderr)
    sys.exit(2)

# The interpreter that runs snakemake runs the jobs: nothing has to be activated.
PYTHON = sys.executable
shell.prefix('set -euo pipefail; python() {{ {PYTHON:q} "$@"; }}; hoofcohort() {{ python -m hoofcohort "$@"; }}; ')


wildcard_constraints:
    study="[a-z0-9-]+",
    outcome="[a-z0-9_]+",


include: "workflow/rules/inbox.smk"
include: "workflow/rules/plan.smk"
include: "workflow/rules/intake.smk"
include: "workflow/rules/derive.smk"
include: "workflow/rules/fit.smk"
include: "workflow/rules/report.smk"
include: "workflow/rules/statistics.smk"
include: "workflow/rules/calibration.smk"


onerror:
    print("A step failed; its own message begins with 'hoofcohort' above. A report.html that is there is an earlier run's.")


rule all:
    default_target: True
    input:
        expand("reports/{study}/report.html", study=STUDIES),
