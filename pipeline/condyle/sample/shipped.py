"""The session in ``sample_trials/``: ``python -m condyle.sample.shipped FOLDER`` writes it anew.

On the right leg the pelvis turns and carries the thigh, on the left the femur goes in at the hip: to a kneecap-only
view much the same. Errors are there at half of their usual size, so that the causes can still be told apart.
"""

import sys
from pathlib import Path

from condyle.sample.lab import Lab
from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Errors, Options
from condyle.sample.person import Posture, build_person
from condyle.sample.sessions import SimulatedSession, simulate_session, write_session
from condyle.sample.timing import Timing

HALF = Errors(local_mm=1.0, landmark_scale=0.5, soft_tissue_scale=0.5, gaps=1.0, pelvis_gap_share=0.4)


def shipped_session() -> SimulatedSession:
    """Participant MR01 on 2026-11-03."""
    posture = Posture(
        pelvis_tilt=10.0, hip_internal_rotation=2.0, knee_adduction=0.5, knee_internal_rotation=-12.0, toe_out=9.0
    )
    person = build_person("MR01", sex="female", height_mm=1720.0, mass_kg=68.0, posture=posture)
    options = Options(
        seed=20261103,
        errors=HALF,
        lab=Lab("+Z", facing_deg=35.0, offset_mm=(420.0, -180.0)),
        timing=Timing(depths=(0.94, 1.0, 0.97, 1.02, 0.95)),
    )
    planned = {
        "squat_right": [("right", MOVEMENTS["pelvis_turn"])],
        "squat_left": [("left", MOVEMENTS["hip_in"])],
    }
    return simulate_session(person, planned, options)


def main(folder: str) -> None:
    """Write the session, its truth and its session file."""
    write_session(Path(folder), shipped_session(), force_plate=True)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "sample_trials/MR01/2026-11-03")
