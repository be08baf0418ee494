"""What may be chosen about a recording, and the sizes of its errors."""

from dataclasses import dataclass, field, replace

from condyle.sample.lab import Lab
from condyle.sample.timing import Timing


@dataclass(frozen=True)
class Errors:
    """How far the markers are from the bones. SDs per axis; a scale of 0 switches a kind off.

    Defaults: noise as modern cameras show it (common practice, no source); misplacement and rigid soft-tissue motion
    within the ranges of Della Croce et al. 2005 and PMC8631460 (the sizes are ours).
    """

    noise_mm: float = 0.3  # white
    coloured_mm: float = 0.2  # below 3 Hz
    local_mm: float = 2.0  # each skin marker by itself, at 75 degrees of knee flexion; a tenth of it on plates
    landmark_scale: float = 1.0  # times the SD of palpation
    soft_tissue_scale: float = 1.0  # times the SD of rigid motion at 75 degrees of knee flexion
    gaps: float = 1.0  # short gaps: expected number per marker and minute
    pelvis_gap_share: float = 0.0  # squats in which the ASIS vanish at the bottom
    pelvis_gap_s: float = 0.35


NO_ERRORS = Errors(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Options:
    """A recording: sampling, tempo, lab, errors. ``Options.ideal()`` has markers exactly on the bones."""

    rate_hz: float = 100.0
    seed: int = 1
    timing: Timing = field(default_factory=Timing)
    lab: Lab = field(default_factory=Lab)
    errors: Errors = field(default_factory=Errors)
    sway_deg: float = 0.12  # unrest of every prescribed angle: true motion, not an error
    foot_turn_deg: float = 0.0  # the foot put down otherwise than in the static trial, inwards
    from_two_feet: bool = False  # stand on both feet before and after the bout
    static_s: float = 3.0
    prefix: str = ""  # of every label, such as "MR01:"

    @classmethod
    def ideal(cls, **changes: object) -> "Options":
        """No noise, soft tissue, misplacement, gaps or sway."""
        return replace(cls(errors=NO_ERRORS, sway_deg=0.0), **changes)  # type: ignore[arg-type]
