"""Run the command line with ``python -m hoofcohort``."""

import sys

from hoofcohort.cli import main

sys.exit(main())
