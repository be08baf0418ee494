"""One recording in memory: a person, a movement, options in; markers and their truth out."""

from dataclasses import dataclass, field, replace

import numpy as np

from condyle.sample.bones import Unrest, squats, standing
from condyle.sample.chain import Motion, footprints, in_sequence, joint_centres, marker_places
from condyle.sample.disturb import SessionErrors, disturbed
from condyle.sample.movements import MOVEMENTS, SAGITTAL, Movement
from condyle.sample.options import Options
from condyle.sample.person import STATIC_ONLY, Person
from condyle.sample.stepping import backwards, step_onto_both, still
from condyle.sample.timing import Progress, progress_of, smooth_unrest
from condyle.sample.truth import Repetition, angles_of, faced, knee_flexion, pelvis_heading, repetitions_of
from condyle.sample.turning import SIDES, SUFFIX, Array

STEP_MM = 200.0  # height of the step of a step-down
_UNSTEADY = 12  # prescribed angles that sway: sagittal, factors, trunk


@dataclass(frozen=True)
class Bout:
    """A run of squats on one leg: its movement, its frames in the recording, and its squats."""

    side: str
    movement: Movement
    start: int
    end: int
    rest: slice  # half a second before the first squat
    repetitions: tuple[Repetition, ...]


@dataclass(frozen=True)
class SimulatedTrial:
    """Markers in the lab's frame and unit beside the truth in the participant's true frame (X forward, Y up, Z right).

    ``points`` (T, M, 3), NaN where missing, in the order of ``markers`` (anatomical names; plates as ``thigh_1_r``);
    ``motion`` the bones; ``marker_truth`` (T, M, 3) mm where the markers' places on the bones really are.
    """

    name: str
    task: str
    person: Person
    options: Options
    time: Array
    markers: tuple[str, ...]
    points: Array
    motion: Motion
    marker_truth: Array
    bouts: tuple[Bout, ...] = ()
    session_errors: SessionErrors | None = field(default=None, repr=False)

    def angles(self, heading_deg: float = 0.0) -> Array:
        """True angles (T, 2 sides (left, right), truth.ANGLES), degrees, with the participant's frame so turned."""
        return angles_of(self.person, faced(self.motion, heading_deg))

    def centres(self, heading_deg: float = 0.0) -> dict[str, Array]:
        """True joint centres (T, 3) by name, mm."""
        return joint_centres(self.person, faced(self.motion, heading_deg))

    def heading_at_start(self, bout: int = 0) -> float:
        """Degrees by which the pelvis is turned about the vertical in the stance before the first squat."""
        return pelvis_heading(self.motion, self.bouts[bout].rest) if self.bouts else 0.0

    def marker(self, name: str) -> Array:
        """The recorded course (T, 3) of one marker."""
        return self.points[:, self.markers.index(name)]


def _generator(options: Options, what: str) -> np.random.Generator:
    """Random numbers of their own for each purpose, so that one option does not change another's draws."""
    return np.random.default_rng([options.seed, *what.encode()])


def simulate_static(
    person: Person, options: Options | None = None, errors: SessionErrors | None = None, name: str = "static"
) -> SimulatedTrial:
    """The static trial: upright on both feet."""
    chosen = options or Options.ideal()
    motion = standing(person, footprints(person), max(2, round(chosen.static_s * chosen.rate_hz)))
    return _recorded(name, "static", person, chosen, motion, (), errors, person.points)


def simulate(
    person: Person,
    movement: Movement | str = "controlled",
    options: Options | None = None,
    side: str = "right",
    *,
    errors: SessionErrors | None = None,
    name: str | None = None,
) -> SimulatedTrial:
    """A squat trial on one leg. ``errors`` are those of the session (the same in its static trial)."""
    return simulate_bouts(person, [(side, movement)], options, errors=errors, name=name or f"squat_{side}")


def simulate_bouts(
    person: Person,
    bouts: list[tuple[str, Movement | str]],
    options: Options | None = None,
    *,
    errors: SessionErrors | None = None,
    name: str = "squats",
) -> SimulatedTrial:
    """A trial of one or more bouts, each (stance side, movement); between two bouts the person stands on both feet."""
    chosen = options or Options.ideal()
    plan = [(side, MOVEMENTS[m] if isinstance(m, str) else m) for side, m in bouts]
    parts: list[Motion] = []
    found: list[Bout] = []
    at = 0
    for number, (side, movement) in enumerate(plan):
        floor = {side: STEP_MM} if movement.task == "step_down" else {}
        prints = footprints(person, floor, chosen.foot_turn_deg)
        rng = _generator(chosen, f"{name} {number}")
        progress = progress_of(chosen.timing, chosen.rate_hz, rng)
        unrest = _unrest(chosen, progress, rng)
        bout = squats(person=person, movement=movement, side=side, progress=progress, prints=prints, unrest=unrest)
        apart = (len(plan) > 1 or chosen.from_two_feet) and movement.free_leg != "planted" and not floor
        both = standing(person, footprints(person, turn=chosen.foot_turn_deg)) if apart else None
        before = _lift(person, side, bout, both, chosen.rate_hz) if both else []
        at += sum(len(m) for m in before)
        found.append(_bout(side, movement, bout, progress, at, chosen.rate_hz))
        after = (
            [step_onto_both(person, side, bout, both, round(chosen.rate_hz)), still(both, round(0.5 * chosen.rate_hz))]
            if both
            else []
        )
        at += len(bout) + sum(len(m) for m in after)
        parts += [*before, bout, *after]
    points = {k: v for k, v in person.points.items() if not k.startswith(STATIC_ONLY)}
    motion = in_sequence(parts)
    return _recorded(name, plan[0][1].task, person, chosen, motion, tuple(found), errors, points)


def _lift(person: Person, side: str, bout: Motion, both: Motion, rate_hz: float) -> list[Motion]:
    """Standing on both feet, then lifting the free one."""
    first = Motion({k: v[:1] for k, v in bout.axes.items()}, {k: v[:1] for k, v in bout.origin.items()})
    return [still(both, round(0.8 * rate_hz)), backwards(step_onto_both(person, side, first, both, round(rate_hz)))]


def _unrest(options: Options, progress: Progress, rng: np.random.Generator) -> Unrest | None:
    """Sway of all angles, and the shaky start of the leg's; it fades in and out so that a bout joins its neighbours."""
    frames, rate = len(progress), options.rate_hz
    shaky = options.timing.shaky_start_deg
    if not options.sway_deg and not shaky:
        return None
    course = options.sway_deg * smooth_unrest(frames, rate, 1.0, rng, _UNSTEADY)
    if shaky:
        fade = np.clip((progress.rest - np.arange(frames)) / (0.3 * rate), 0.0, 1.0)[:, None]
        course[:, len(SAGITTAL) :] += shaky * fade * smooth_unrest(frames, rate, 3.0, rng, _UNSTEADY - len(SAGITTAL))
    edge = np.minimum(np.arange(frames), np.arange(frames)[::-1]) / (0.4 * rate)
    return Unrest(course * np.clip(edge, 0.0, 1.0)[:, None])


def _bout(side: str, movement: Movement, motion: Motion, progress: Progress, at: int, rate_hz: float) -> Bout:
    flexion = knee_flexion(motion, side)
    squats_found = [
        replace(r, start=r.start + at, bottom=r.bottom + at, end=r.end + at)
        for r in repetitions_of(flexion, progress.windows, rate_hz)
    ]
    rest_end = at + max(1, progress.rest)
    rest = slice(max(at, rest_end - round(0.5 * rate_hz)), rest_end)
    return Bout(side, movement, at, at + len(motion), rest, tuple(squats_found))


def _recorded(
    name: str,
    task: str,
    person: Person,
    options: Options,
    motion: Motion,
    bouts: tuple[Bout, ...],
    errors: SessionErrors | None,
    points: dict[str, tuple[str, Array]],
) -> SimulatedTrial:
    """The trial as the cameras saw it."""
    names, truth = marker_places(motion, points)
    seen = truth
    if errors is not None:
        bottoms = [r.bottom for b in bouts for r in b.repetitions]
        bent = _bent_knees(motion, bouts)
        seen = disturbed(motion, points, errors, options, bent, bottoms, _generator(options, f"{name} cameras"))
    return SimulatedTrial(
        *(name, task, person, options, np.arange(len(motion)) / options.rate_hz, tuple(names)),
        points=options.lab.to_lab(seen),
        motion=motion,
        marker_truth=truth,
        bouts=bouts,
        session_errors=errors,
    )


def _bent_knees(motion: Motion, bouts: tuple[Bout, ...]) -> dict[str, Array]:
    """The knee flexion that each segment's soft tissue follows: its own leg's; on pelvis and trunk the stance leg's."""
    knees = np.stack([knee_flexion(motion, side) for side in SIDES], axis=1)
    stance = knees.min(axis=1)
    for bout in bouts:
        stance[bout.start : bout.end] = knees[bout.start : bout.end, SIDES.index(bout.side)]
    legs = {f"{name}{SUFFIX[s]}": knees[:, i] for i, s in enumerate(SIDES) for name in ("thigh", "shank", "foot")}
    return {"pelvis": stance, "trunk": stance, **legs}


__all__ = ["Bout", "SimulatedTrial", "simulate", "simulate_bouts", "simulate_static"]
