"""Is the landmark that was put elsewhere named? ``python -m tests.placing [rounds] [seed]``

Two standing trials of an invented person, the markers placed anew with published palpation errors, the posture a little
different, hip centres off the regression. In the second, one landmark of pelvis, thigh, shank or foot is put 20, 40 or 60 mm
elsewhere, in any direction or within the skin. Counted: is it named alone, among others between which the rest cannot
tell, not at all, or is another one named; how far off are size and direction; how often is a landmark named, or are axes
called turned, between two sound sessions; do the intervals of the turned axes hold the truth. Limits were settled on
other seeds (1 to 11). These are synthetic data. With OPEN_C3D_DIR the same is done on real bodies: public standing trials,
with invented errors on their landmarks.
"""

import argparse
import os
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from scipy.spatial.transform import Rotation

from condyle.body_names import LANDMARK_SEGMENT, SEGMENTS
from condyle.mechanics.landmark_error import NORMAL_AXIS, kind_of
from condyle.repeatability.angle_tables import axes_table
from condyle.repeatability.gathering import Gathered
from condyle.repeatability.pair import Pair, compare_pair
from condyle.repeatability.picture import draw
from condyle.repeatability.placing_tables import landmarks_table
from condyle.repeatability.sentences import pair_sentences
from condyle.repeatability.standing import standing_of
from condyle.sample import Errors, Options, Person, random_person, simulate_static
from condyle.sample.disturb import draw_errors

from .placing_open import bodies
from .simulated import run, trial_of

SIZES_MM = (20.0, 40.0, 60.0)
EXAMINER = 1.4  # what another tester does to palpation, as configs/uncertainty.yaml has it
PARTS = ("pelvis", "thigh", "shank", "foot")
MOVED = tuple(
    n for n, s in LANDMARK_SEGMENT.items() if s.removesuffix("_r").removesuffix("_l") in PARTS and n != "sacrum"
)
POSTURE_SD = {  # how differently a person stands on another day: ours
    **{"pelvis_tilt": 3.0, "pelvis_obliquity": 1.0, "trunk_flexion": 3.0, "hip_internal_rotation": 3.0},
    **{"knee_adduction": 0.7, "knee_internal_rotation": 2.0, "knee_flexion": 3.0, "toe_out": 4.0},
    **{"feet_apart_mm": 20.0, "hip_ahead_of_ankle_mm": 10.0},
}


@dataclass(frozen=True)
class Session:
    """A standing trial as it is compared, and the true axes of the bones in it."""

    gathered: Gathered
    axes: np.ndarray


def another_day(person: Person, rng: np.random.Generator) -> Person:
    """The same bones, standing a little differently."""
    stance = {name: getattr(person.posture, name) + sd * rng.normal() for name, sd in POSTURE_SD.items()}
    stance["knee_flexion"] = max(stance["knee_flexion"], 2.5)  # or a leg is too short for where its foot stands
    return replace(person, posture=replace(person.posture, **stance))


def session(
    person: Person,
    scale: float,
    rng: np.random.Generator,
    moved: Mapping[str, np.ndarray] | None = None,
    tester: str = "T1",
) -> Session:
    """A standing trial with palpation ``scale`` times as far off as published; ``moved`` in its segment's axes, mm."""
    standing = another_day(person, rng)
    errors = Errors(landmark_scale=scale)
    drawn = draw_errors(standing, errors, rng)
    more = {name: drawn.misplaced[name] + shift for name, shift in (moved or {}).items()}
    drawn = replace(drawn, misplaced=dict(drawn.misplaced) | more)
    options = Options(seed=int(rng.integers(1 << 30)), errors=errors, rate_hz=50.0, static_s=0.6)
    made = simulate_static(standing, options, drawn)
    trial, _ = run(trial_of(made, task="static"), "static", until="calibrate")
    axes = np.stack([made.motion.axes[s][0] for s in SEGMENTS])
    gathered = Gathered(Path(), person.name, tester, tester, standing_of(trial), pd.DataFrame())
    return Session(gathered, axes)


def two_days(
    rng: np.random.Generator, scale: float, moved: Mapping[str, np.ndarray] | None = None, other_tester: bool = False
) -> tuple[Pair, np.ndarray]:
    """A pair of sessions and the true turn (8, 3) [deg] of the second's axes against the first's, as rotation vectors."""
    person = random_person("MR01", rng, hip_centre_sd_mm=7.0)
    spread = scale * (EXAMINER if other_tester else 1.0)
    first = session(person, spread, rng)
    second = session(person, spread, rng, moved, "T2" if other_tester else "T1")
    pair = compare_pair(first.gathered, second.gathered)
    assert pair is not None
    own = [np.swapaxes(s.axes, -1, -2) @ s.gathered.standing.rotation for s in (first, second)]
    turn = np.swapaxes(own[0], -1, -2) @ own[1]
    return pair, np.rad2deg(Rotation.from_matrix(turn).as_rotvec())


def displacement(rng: np.random.Generator, name: str, size: float, in_skin: bool) -> np.ndarray:
    """A random direction in the segment's axes."""
    shift = rng.normal(size=3)
    if in_skin:
        shift[NORMAL_AXIS[kind_of(name)]] = 0.0
    return size * shift / np.linalg.norm(shift)


@dataclass(frozen=True)
class Case:
    """What became of one displaced landmark."""

    landmark: str
    outcome: str  # alone, among, another, none
    others: int  # landmarks named besides
    blamed: bool  # not beyond palpation, but named as what turns axes
    size_error: float
    direction_error: float


def case(pair: Pair, landmark: str, shift: np.ndarray) -> Case:
    """Whether the landmark is named, and how well its displacement is told (whether it is named or not)."""
    k = pair.names.index(landmark)
    found, told = pair.found, pair.displacement[k]
    among = [i for i, others in found.or_else.items() if others and (k == i or k in others)]
    outcome = "among" if among else "alone" if k in found.moved else "another" if found.moved else "none"
    blamed = outcome == "none" and any(pair.turned_by(*where) == k for where in pair.turned)
    size, real = float(np.linalg.norm(told)), float(np.linalg.norm(shift))
    cosine = float(told @ shift) / max(size * real, 1e-9)
    angle = float(np.degrees(np.arccos(np.clip(cosine, -1, 1))))
    besides = len([i for i in found.moved if i != k and i not in among])
    return Case(landmark, outcome, besides, blamed, size - real, angle)


def cases(rounds: int, rng: np.random.Generator, size: float, in_skin: bool, scale: float = 1.0) -> list[Case]:
    """Every landmark of pelvis and legs in turn."""
    out = []
    for name in MOVED * rounds:
        shift = displacement(rng, name, size, in_skin)
        out.append(case(two_days(rng, scale, {name: shift})[0], name, shift))
    return out


def _share(part: int, whole: int) -> str:
    return f"{100 * part / max(whole, 1):5.0f}"


def _row(words: str, found: list[Case]) -> str:
    count = Counter(c.outcome for c in found)
    told = [c for c in found if c.outcome in ("alone", "among")]
    sizes = f"{np.median([abs(c.size_error) for c in told]):5.1f}" if told else "    -"
    angles = f"{np.median([c.direction_error for c in told]):5.0f}" if told else "    -"
    shares = " ".join(_share(count[n], len(found)) for n in ("alone", "among", "another", "none"))
    extra = _share(sum(c.others > 0 for c in told), len(told)) if told else "    -"
    return f"{words:<34}{len(found):5d} {shares} {_share(sum(c.blamed for c in found), len(found))} {extra} {sizes} {angles}"


def table(rounds: int, seed: int) -> Iterator[str]:
    """Lines of the table, as they are known."""
    yield f"{'':<34}    n alone among other  none axes+ besid  |mm|   deg"
    for scale in (1.0, 0.5):
        for in_skin in (False, True):
            for size in SIZES_MM:
                found = cases(rounds, np.random.default_rng([seed, int(size), in_skin]), size, in_skin, scale)
                where = "in the skin" if in_skin else "anywhere"
                yield _row(f"{scale:g} palpation, {size:.0f} mm {where}", found)
                if scale == 1.0:
                    for part in PARTS:
                        own = [c for c in found if LANDMARK_SEGMENT[c.landmark].startswith(part)]
                        yield _row(f"    {part}", own)


def sound(count: int, seed: int, other_tester: bool, scale: float = 1.0) -> tuple[int, int, int, float, float]:
    """Of sound pairs: with a landmark named, axes called turned, neither; share of turns held; of called ones true."""
    rng = np.random.default_rng([seed, 99, other_tester])
    named = turned = neither = 0
    held, real = [], []
    for _ in range(count):
        pair, truth = two_days(rng, scale, None, other_tester)
        named += bool(pair.found.moved) or pair.found.scattered
        turned += bool(pair.turned)
        neither += not pair.reviewed
        held += (np.abs(pair.effects.turn - truth) <= pair.turn_within)[1:].ravel().tolist()
        real += [abs(truth[s, a]) > 5.0 for s, a in pair.turned]
    return named, turned, neither, float(np.mean(held)), float(np.mean(real)) if real else float("nan")


def real_table(rounds: int, seed: int) -> Iterator[str]:
    """The same on the public standing trials, landmarks moved in any direction; and how often one is named in sound pairs."""
    with TemporaryDirectory() as folder:
        for body in bodies(Path(folder)):
            for scale in (1.0, 0.5):
                rng = np.random.default_rng([seed, 7])
                named = sum(bool(body.two_days(rng, scale).found.moved) for _ in range(20 * rounds))
                share = 100 * named / (20 * rounds)
                yield f"{body.name}, {len(body.landmarks)} landmarks, {scale:g} palpation: named in {share:.1f} % of sound pairs"
                for size in SIZES_MM:
                    found = []
                    for name in body.landmarks * rounds:
                        shift = displacement(rng, name, size, False)
                        found.append(case(body.two_days(rng, scale, {name: shift}), name, shift))
                    yield _row(f"    {size:.0f} mm anywhere", found)


def example() -> Pair:
    """For the picture of the docs: the left ASIS 50 mm higher, the right lateral epicondyle 24 mm further forward."""
    rng = np.random.default_rng(8)
    person = random_person("MR01", rng, hip_centre_sd_mm=7.0)
    moved = {"asis_l": np.array([0.0, 50.0, 0.0]), "lateral_epicondyle_r": np.array([24.0, 0.0, 0.0])}
    first = session(person, 0.4, rng, tester="2026-11-03")
    second = session(person, 0.4, rng, moved, tester="2026-11-10")
    pair = compare_pair(replace(first.gathered, tester=""), replace(second.gathered, tester=""))
    assert pair is not None
    return pair


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("rounds", nargs="?", type=int, default=10, help="how often each landmark is moved")
    parser.add_argument("seed", nargs="?", type=int, default=2026)
    parser.add_argument("--picture", type=Path, help="only draw the docs' example into this SVG file")
    arguments = parser.parse_args()
    if arguments.picture is not None:
        pair = example()
        draw([pair], landmarks_table([pair]), axes_table([pair]), arguments.picture)
        print(*pair_sentences([pair]), sep="\n")
        return
    count = 40 * arguments.rounds
    for scale in (1.0, 0.5):
        for other_tester in (False, True):
            named, turned, neither, held, real = sound(count, arguments.seed, other_tester, scale)
            who = "different testers" if other_tester else "the same tester"
            print(
                f"{count} sound pairs, {scale:g} palpation, {who}: a landmark named in {100 * named / count:.1f} %, axes called "
                f"turned in {100 * turned / count:.0f} % (truly beyond 5 degrees: {100 * real:.0f} % of these), neither in "
                f"{100 * neither / count:.0f} %; 95 % intervals of turns hold {100 * held:.1f} %",
                flush=True,
            )
    for line in table(arguments.rounds, arguments.seed):
        print(line, flush=True)
    if "OPEN_C3D_DIR" in os.environ:
        for line in real_table(max(1, arguments.rounds // 4), arguments.seed):
            print(line, flush=True)


if __name__ == "__main__":
    main()
