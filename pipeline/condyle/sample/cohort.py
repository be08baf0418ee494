"""Many participants: persons, movements, sizes and depths drawn with a seed; in memory or as folders.

The same seed gives the same people and byte-identical C3D files, and participant k is the same however many there are.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from importlib.resources import files
from pathlib import Path

import numpy as np

from condyle.errors import UsageError
from condyle.files.atomic import writable_or_raise, write_text
from condyle.sample.lab import Lab
from condyle.sample.matched import matched_pair
from condyle.sample.movements import FACTORS, MOVEMENTS, Movement
from condyle.sample.options import NO_ERRORS, Errors, Options
from condyle.sample.person import Person, check_person, random_person
from condyle.sample.sessions import Planned, SimulatedSession, simulate_session, write_session
from condyle.sample.timing import Timing
from condyle.sample.turning import SIDES

# How often each movement comes up; leading causes alike, so that a confusion matrix has something in every row. Ours.
MIX = {
    "controlled": 0.12,
    "trunk_over_stance": 0.06,
    "pelvis_shift": 0.06,
    "hip_in": 0.16,
    "pelvis_turn": 0.16,
    "pelvis_drop": 0.06,
    "knee_out": 0.06,
    "wavering": 0.05,
    "pronating": 0.05,
    "foot_rolling": 0.03,
    "knee_giving": 0.03,
    "posture_kept": 0.06,
    "shared": 0.06,
    "against_each_other": 0.04,
}


@dataclass(frozen=True)
class Style:
    """How far people differ within a movement. SDs in degrees; ours.

    ``facing_sd`` is the pelvis' turn in the stance before the first squat, which a lab cannot tell from its heading.
    """

    size: tuple[float, float] = (0.5, 1.4)
    depth: tuple[float, float] = (0.75, 1.12)
    change_sd: float = 1.5
    start_sd: float = 1.0
    facing_sd: float = 3.0
    foot_turn_sd: float = 2.0
    varying_depth_sd: float = 0.05


REALISTIC = Errors(pelvis_gap_share=0.25)


def random_movement(rng: np.random.Generator, style: Style | None = None) -> Movement:
    """A movement of MIX in somebody's own size, depth and manner."""
    spread = style or Style()
    movement = MOVEMENTS[str(rng.choice(list(MIX), p=np.array(list(MIX.values())) / sum(MIX.values())))]
    change, start = dict(movement.change), dict(movement.start)
    for name in FACTORS:
        change[name] = change.get(name, 0.0) + float(rng.normal(0, spread.change_sd))
        start[name] = start.get(name, 0.0) + float(rng.normal(0, spread.start_sd))
    start["pelvis_rotation"] += float(rng.normal(0, spread.facing_sd))
    size, depth = float(rng.uniform(*spread.size)), float(rng.uniform(*spread.depth))
    return replace(movement, change=change, start=start, size=size, depth=depth)


def _manner(rng: np.random.Generator, style: Style) -> Timing:
    """Tempo and depths of five squats; one person in six begins shakily, one in six pauses at the bottom."""
    depths = tuple(float(d) for d in np.clip(rng.normal(1.0, style.varying_depth_sd, 5), 0.8, 1.15))
    shaky = 1.2 if rng.random() < 1 / 6 else 0.0
    pause = 0.3 if rng.random() < 1 / 6 else 0.0
    return Timing(depths=depths, shaky_start_deg=shaky, pause_bottom_s=pause, squat_s=float(rng.uniform(1.8, 2.6)))


def drawn_session(
    number: int, seed: int, *, errors: Errors = REALISTIC, style: Style | None = None, hip_centre_sd_mm: float = 7.0
) -> SimulatedSession:
    """Participant ``number`` (from 1) of the cohort with this seed: static trial, right and left squats."""
    spread = style or Style()
    rng = np.random.default_rng([seed, number])
    person = random_person(participant_name(number), rng, hip_centre_sd_mm=hip_centre_sd_mm)
    planned: dict[str, Planned] = {}
    by_trial = {}
    lab = Lab("+Z", float(rng.uniform(0, 360)), (float(rng.uniform(-800, 800)), float(rng.uniform(-800, 800))))
    general = Options(seed=int(rng.integers(2**31)), errors=errors, lab=lab)
    for side in reversed(SIDES):
        planned[f"squat_{side}"] = [(side, random_movement(rng, spread))]
        turn = float(rng.normal(0, spread.foot_turn_sd))
        by_trial[f"squat_{side}"] = replace(general, timing=_manner(rng, spread), foot_turn_deg=turn)
    return simulate_session(person, planned, general, date=_day(number), trial_options=by_trial)


def cohort(
    participants: int,
    seed: int,
    *,
    errors: Errors = REALISTIC,
    style: Style | None = None,
    hip_centre_sd_mm: float = 7.0,
) -> Iterator[SimulatedSession]:
    """The sessions of a cohort one after the other, in memory."""
    for number in range(1, participants + 1):
        yield drawn_session(number, seed, errors=errors, style=style, hip_centre_sd_mm=hip_centre_sd_mm)


def participant_name(number: int) -> str:
    """MR01, MR02 ..."""
    return f"MR{number:02d}"


def _day(number: int) -> str:
    """The team is screened eight a day."""
    return (date(2026, 11, 3) + timedelta(days=(number - 1) // 8)).isoformat()


def matched_sessions(seed: int, errors: Errors = REALISTIC, first: int = 2) -> list[SimulatedSession]:
    """Two people alike in sizes and to a kneecap's view: the first turns the pelvis, the second moves at the hip."""
    hip_member, pelvis_member = matched_pair()
    sessions = []
    for number, movement in ((first, pelvis_member), (first + 1, hip_member)):
        person: Person = check_person(participant_name(number))
        options = Options(seed=seed * 1000 + number, errors=errors, timing=Timing(tempo_spread=0.0))
        planned: dict[str, Planned] = {f"squat_{side}": [(side, movement)] for side in reversed(SIDES)}
        sessions.append(simulate_session(person, planned, options, date=_day(number)))
    return sessions


def _with_extras(session: SimulatedSession, number: int, seed: int) -> SimulatedSession:
    """Other tasks for some: both legs in one file, a step-down, a squat on both legs."""
    extras: dict[int, dict[str, Planned]] = {
        4: {"both_legs": [("right", "controlled"), ("left", "hip_in")]},
        5: {"step_down_right": [("right", "step_down")]},
        6: {"double_leg": [("right", "double_leg_squat")]},
    }
    if number not in extras:
        return session
    options = replace(session.static.options, seed=seed * 1000 + number)
    more = simulate_session(
        session.person, extras[number], options, date=session.date, errors=session.static.session_errors
    )
    return replace(session, trials=(*session.trials, *more.trials))


def write_sample(folder: str | Path, participants: int = 10, seed: int = 1, ideal: bool = False) -> list[Path]:
    """Write synthetic sessions with their truth below ``folder``; returns the session folders.

    ``ideal`` puts every marker on its bone and shows it in every frame; people and movements are the same.
    MR01 stands on a force plate, MR02 and MR03 are the matched pair (from three participants on), MR04 to MR06 have a
    trial of another task beside their squats. Marker set and pipeline are copied beside them: the folder can move.
    """
    if participants < 1:
        raise UsageError(f"--participants is {participants}; at least 1 is needed")
    if seed < 0:
        raise UsageError(f"--seed is {seed}; it must be 0 or more")
    root = writable_or_raise(folder)
    shipped = files("condyle").joinpath("configs")
    for source in ("markers/clusters_full_body.yaml", "single_leg_squat.yaml"):
        write_text(root / Path(source).name, shipped.joinpath(source).read_text(encoding="utf-8"))
    errors = NO_ERRORS if ideal else REALISTIC
    pair = matched_sessions(seed, errors) if participants >= 3 else []
    written = []
    for number in range(1, participants + 1):
        member = bool(pair) and number in (2, 3)
        session = pair[number - 2] if member else _with_extras(drawn_session(number, seed, errors=errors), number, seed)
        place = root / session.person.name / session.date
        written.append(
            write_session(
                place,
                session,
                marker_set="../../clusters_full_body.yaml",
                pipeline="../../single_leg_squat.yaml",
                force_plate=number == 1,
            )
        )
    return written
