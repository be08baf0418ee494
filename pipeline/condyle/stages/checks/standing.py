"""Does the standing trial show a standing person, the right way up, with left on the left?"""

from condyle.findings import Finding
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded


def standing_findings(seen: Recorded, limits: Limits) -> list[Finding]:
    """Findings on the body of a standing trial."""
    return []
