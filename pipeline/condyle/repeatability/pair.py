"""One participant's session against another: which landmark was placed differently, and what it does to the axes."""

from dataclasses import dataclass

import numpy as np

from condyle.files.limits import load_limits
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.bone_alignment import TwoSessions, turn_spread
from condyle.mechanics.replacement import Moved, SearchLimits, find_moved, least_found
from condyle.repeatability.effects import Effects, effects_of
from condyle.repeatability.gathering import Gathered
from condyle.repeatability.palpation import NORMAL_95, Explained, explained_by_palpation
from condyle.repeatability.standing import common_landmarks, two_sessions

FEWEST = 4  # three landmarks lie on any other three whatever was moved, but for their distances


@dataclass(frozen=True)
class Pair:
    """Two sessions laid on each other; everything is the second less the first, in the first's segment axes."""

    first: Gathered
    second: Gathered
    names: list[str]
    two: TwoSessions
    found: Moved
    displacement: FloatArray  # (P, 3) [mm]
    limit: FloatArray  # (P,) [mm] beyond chance in the direction of the displacement
    effects: Effects
    turn_within: FloatArray  # (8, 3) [deg] half of the turn's 95 % interval
    explained: Explained
    other_tester: bool  # two testers are named, and they differ

    @property
    def key(self) -> dict[str, str]:
        """What every row of a table starts with."""
        return {"participant": self.first.participant, "first": self.first.session, "second": self.second.session}

    def in_segment(self, index: int, shift: FloatArray) -> FloatArray:
        """A displacement (3,) of the landmark ``index`` along its segment's axes in the first session."""
        return np.asarray(self.first.standing.rotation[self.two.bone[index]].T @ shift)

    @property
    def overridden(self) -> str:
        """What the session files let through of the two standing trials; empty where nothing."""
        both = (self.first, self.second)
        return "; ".join(words for g in both if (words := g.overridden.together([g.standing_trial])))

    @property
    def turned(self) -> list[tuple[int, int]]:
        """Segments whose axes are surely turned, and by more than matters, each with the axis turned about most; worst first."""
        limit = load_limits("sessions_compared")["axes_review"].value
        size = np.abs(np.nan_to_num(self.effects.turn))
        size[(size <= limit) | (size <= self.turn_within)] = 0.0
        order = np.argsort(-size.max(axis=1), kind="stable")
        return [(int(s), int(size[s].argmax())) for s in order if size[s].any()]

    @property
    def reviewed(self) -> bool:
        """Whether anything about the two is to be looked at."""
        return bool(self.found.moved or self.turned or self.found.scattered)

    def turned_by(self, segment: int, axis: int) -> int | None:
        """The landmark without whose displacement at most half of the turn would be left; None where no single one is."""
        left = np.abs(self.effects.turn_without[:, segment, axis])
        one = int(np.argmin(left))
        return one if left[one] <= 0.5 * abs(self.effects.turn[segment, axis]) else None


def compare_pair(first: Gathered, second: Gathered) -> Pair | None:
    """The two sessions laid on each other; None where they share too few landmarks."""
    one, other = first.standing, second.standing
    names = common_landmarks(one, other)
    if len(names) < FEWEST:
        return None
    other_tester = bool(first.tester and second.tester and first.tester != second.tester)
    two = two_sessions(one, other, names, other_tester)
    limits = load_limits("sessions_compared")
    found = find_moved(two, SearchLimits(*(limits[key].value for key in SearchLimits._fields)))
    own = one.rotation[two.bone]
    return Pair(
        *(first, second, names, two, found),
        displacement=np.einsum("pji,pj->pi", own, found.told.displacement),
        limit=least_found(found.told, found.threshold),
        effects=effects_of(found.laid, one, other, names, found.told.displacement),
        turn_within=NORMAL_95 * turn_spread(found.laid, one.rotation),
        explained=explained_by_palpation(other, other_tester),
        other_tester=other_tester,
    )


def pairs_of(sessions: list[Gathered]) -> tuple[list[Pair], list[str]]:
    """Each session of a participant against their first; sentences for those that share too few landmarks."""
    first: dict[str, Gathered] = {}
    out, apart = [], []
    for g in sorted(sessions, key=lambda g: (g.participant, g.session)):
        start = first.setdefault(g.participant, g)
        if start is g:
            continue
        pair = compare_pair(start, g)
        if pair is None:
            apart.append(
                f"{g.participant} {g.session} and {start.session} have fewer than {FEWEST} landmarks in common; use one "
                "marker set to compare them."
            )
        else:
            out.append(pair)
    return out, apart
