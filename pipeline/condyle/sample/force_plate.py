"""What a force plate under the stance foot would record: weight, sway, and a pressure centre below the mass centre."""

from dataclasses import dataclass

import numpy as np

from condyle.sample.chain import Motion, joint_centres
from condyle.sample.person import Person
from condyle.sample.simulate import SimulatedTrial
from condyle.sample.timing import smooth_unrest
from condyle.sample.turning import SIDES, SUFFIX, Array, moved

GRAVITY = 9.80665
_ANALOGUE_PER_FRAME = 10
_SIZE_MM = (600.0, 400.0)
_SENSOR_BELOW_MM = 40.0  # of the plate's own origin under its surface
# Share of the body's mass, and of the segment's length from its upper end: de Leva 1996, mean of both sexes, rounded.
_LEGS = {"thigh": (0.145, 0.39), "shank": (0.046, 0.44), "foot": (0.013, 0.5)}


@dataclass(frozen=True)
class PlateRecording:
    """Channels (samples, 6) and geometry of one plate; ``pressure_centre_mm`` (T, 3) in the lab is the truth of it."""

    labels: tuple[str, ...]
    units: tuple[str, ...]
    rate_hz: float
    channels: Array
    corners: Array
    origin: Array
    pressure_centre_mm: Array


def mass_centre(person: Person, motion: Motion) -> Array:
    """The body's centre of mass (T, 3): legs by segment, all above them as one mass on the line to the shoulders."""
    centres = joint_centres(person, motion)
    hips = (centres["hip_r"] + centres["hip_l"]) / 2
    shoulders = [
        motion.origin["trunk"] + moved(motion.axes["trunk"], person.points[f"acromion{SUFFIX[s]}"][1]) for s in SIDES
    ]
    legs = 2 * sum(mass for mass, _ in _LEGS.values())
    top = (shoulders[0] + shoulders[1]) / 2
    total = (1 - legs) * (hips + 0.62 * (top - hips))  # trunk, head and crossed arms together; from memory
    for side in SIDES:
        end = SUFFIX[side]
        foot = motion.origin[f"foot{end}"]
        toes = foot + 0.14 * person.height_mm * motion.axes[f"foot{end}"][:, :, 0]
        ends = {
            "thigh": (centres[f"hip{end}"], centres[f"knee{end}"]),
            "shank": (centres[f"knee{end}"], centres[f"ankle{end}"]),
            "foot": (foot, toes),
        }
        for name, (upper, lower) in ends.items():
            mass, share = _LEGS[name]
            total = total + mass * (upper + share * (lower - upper))
    result: Array = total
    return result


def plate_under(trial: SimulatedTrial) -> PlateRecording:
    """A plate below the stance foot; the pressure centre follows the mass centre but stays under the foot."""
    person, lab, rate = trial.person, trial.options.lab, trial.options.rate_hz
    side = trial.bouts[0].side if trial.bouts else "right"
    rng = np.random.default_rng([trial.options.seed, 77])
    mass = mass_centre(person, trial.motion)
    foot = trial.motion.origin[f"foot{SUFFIX[side]}"]
    toes = foot + 0.11 * person.height_mm * trial.motion.axes[f"foot{SUFFIX[side]}"][:, :, 0]
    unrest = smooth_unrest(len(mass), rate, 2.0, rng, 2)
    along = np.clip((mass[:, 0] - foot[:, 0]) / (toes[:, 0] - foot[:, 0]) + 0.03 * unrest[:, 0], 0.1, 0.95)
    centre = foot + along[:, None] * (toes - foot)
    across = np.clip(mass[:, 2] - centre[:, 2], -20.0, 20.0) + 3.0 * unrest[:, 1]
    centre = np.stack([centre[:, 0], np.zeros(len(mass)), centre[:, 2] + across], axis=1)
    lift = np.gradient(np.gradient(mass, axis=0), axis=0) * rate**2 / 1000.0
    force = person.mass_kg * (
        lift + np.array([0.0, GRAVITY, 0.0])
    )  # of the floor on the person, N, participant's frame
    middle = np.array([50.0, 0.0, float(np.mean(foot[:, 2]))])
    long, wide = _SIZE_MM[0] / 2, _SIZE_MM[1] / 2
    corners = lab.to_lab(middle + np.array([[long, 0, wide], [-long, 0, wide], [-long, 0, -wide], [long, 0, -wide]]))
    # x ahead (from corner 2 to 1), y to the right (from 4 to 1), so z points down, as force plates have it
    axes = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])  # rows: the plate's axes in the participant's frame
    local_force = force @ axes.T
    arm = (centre - middle) @ axes.T - np.array([0.0, 0.0, _SENSOR_BELOW_MM])
    moment = np.cross(arm, local_force)
    frames = np.arange(len(mass))
    fine = np.arange(len(mass) * _ANALOGUE_PER_FRAME) / _ANALOGUE_PER_FRAME
    channels = np.stack([np.interp(fine, frames, column) for column in np.hstack([local_force, moment]).T], axis=1)
    return PlateRecording(
        ("FX1", "FY1", "FZ1", "MX1", "MY1", "MZ1"),
        ("N", "N", "N", "Nmm", "Nmm", "Nmm"),
        *(rate * _ANALOGUE_PER_FRAME, channels, corners, np.array([0.0, 0.0, -_SENSOR_BELOW_MM])),
        pressure_centre_mm=lab.to_lab(centre),
    )
