"""Makes every Python process that has this folder on its path process sessions by ``stand_in_session``.

Tests of the archive's machinery (kills, crashes, limits, resuming) need sessions that take milliseconds and misbehave
on demand; the real ones are tested where numbers count.
"""

import os
import sys

import stand_in_session

from condyle.files import fingerprints

sys.modules["condyle.session"] = stand_in_session
_version = os.environ.get("STAND_IN_VERSION", "1")
fingerprints.sha256_of_package = lambda: _version  # type: ignore[assignment]  # the sources may change while tests run
