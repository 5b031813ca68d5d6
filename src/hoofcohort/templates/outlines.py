"""The views of the foot, by name."""

from __future__ import annotations

from hoofcohort.templates.behind_view import BEHIND
from hoofcohort.templates.below_view import BELOW
from hoofcohort.templates.side_views import INNER, SIDE
from hoofcohort.templates.view import View

VIEWS: dict[str, View] = {"side": SIDE, "inner": INNER, "behind": BEHIND, "below": BELOW}
