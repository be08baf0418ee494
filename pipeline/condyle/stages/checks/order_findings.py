"""Which landmarks of a standing person are out of order, and which exchange of two names puts them in order?"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.order import Relation, Standing
from condyle.stages.checks.recorded import Recorded
from condyle.stages.checks.subjects import part_of, subjects_of

Landmarks = dict[str, FloatArray]
_CHECK = "order of landmarks"
_TIMES_UNLIKE = 3  # of two landmarks, one is misplaced where it is so many times as unlike the other side's


def order_findings(seen: Recorded, landmarks: Landmarks, limits: Limits) -> tuple[list[Finding], Landmarks]:
    """One rejecting row per fault; and the landmarks as they would be without: exchanged back, or left out."""
    looked = _Looked.at(seen, landmarks, limits)
    rows: list[Finding] = []
    sides: list[tuple[int, int]] = []
    misplaced: list[str] = []
    while (wrong := looked.wrong()).any():
        group = looked.group(wrong)
        if (pair := looked.exchange(wrong, group)) is not None:
            rows += looked.exchange_rows(wrong, pair)
            sides += looked.of_sides([pair])
            looked.swap([pair])
        elif pairs := looked.sides(wrong, group):
            sides += pairs
            looked.swap(pairs)
        else:
            blamed = looked.blamed(wrong)
            rows += looked.misplaced_rows(wrong, blamed)
            misplaced.append(looked.label(blamed[0]))
            looked.known[list(blamed)] = False
    most = limits["order_most"]
    if len(misplaced) > most.value:
        advice = (
            f"{', '.join(misplaced)} do not lie as in a person who stands upright: another posture, or wrong labels. "
            "Give a trial in which the participant stands upright with both feet on the floor, and see that the marker set has "
            "the labels of this file."
        )
        rows, sides = [Finding(_CHECK, "file", float(len(misplaced)), most.value, most.unit, "reject", advice)], []
    return [*rows, *_Looked.at(seen, landmarks, limits).side_rows(sides)], looked.landmarks()


class _Worst(NamedTuple):
    """A wrong relation."""

    relation: Relation
    apart: float  # [mm] that way
    least: float  # [mm]
    many: int  # wrong relations in all


@dataclass
class _Looked:
    """Where the landmarks are, and which of them are still believed."""

    seen: Recorded
    standing: Standing
    place: FloatArray  # (N, 3)
    known: BoolArray  # (N,)

    @staticmethod
    def at(seen: Recorded, landmarks: Landmarks, limits: Limits) -> "_Looked":
        standing = Standing(list(landmarks), limits)
        place = np.array([landmarks[n] for n in standing.names]).reshape(-1, 3)
        return _Looked(seen, standing, place, np.ones(len(place), np.bool_))

    def landmarks(self) -> Landmarks:
        return {n: p for n, p, k in zip(self.standing.names, self.place, self.known, strict=True) if k}

    def label(self, k: int) -> str:
        return self.seen.labels[self.seen.names.index(self.standing.names[k])]

    def part(self, k: int) -> str:
        return part_of(self.seen, self.seen.names.index(self.standing.names[k]))

    def wrong(self, order: IntArray | None = None) -> BoolArray:
        """(R,) relations between believed landmarks that do not hold, under another order of names where one is given."""
        s = self.standing
        place = self.place if order is None else self.place[order]
        return s.broken(place) & self.known[s.first] & self.known[s.second]

    def group(self, wrong: BoolArray) -> BoolArray:
        """(N,) the landmarks of the first wrong relation, and all that wrong relations tie to them."""
        s, (first, *_) = self.standing, np.flatnonzero(wrong)
        out: BoolArray = np.zeros(len(s.names), dtype=np.bool_)
        out[[s.first[first], s.second[first]]] = True
        while True:
            tied = wrong & (out[s.first] | out[s.second])
            more = out.copy()
            more[s.first[tied]] = more[s.second[tied]] = True
            if (more == out).all():
                return out
            out = more

    def exchange(self, wrong: BoolArray, group: BoolArray) -> tuple[int, int] | None:
        """The two names whose exchange mends every wrong relation of the group and breaks none: with the most to spare."""
        s = self.standing
        elsewhere = wrong & ~(group[s.first] | group[s.second])
        best: tuple[bool, float] = (False, -np.inf)
        out = None
        for a, b in self._pairs(group):
            order = self._order([(a, b)])
            if (self.wrong(order) & ~elsewhere).any():
                continue
            apart = s.apart(self.place[order])
            assert apart is not None
            touched = np.isin(s.first, (a, b)) | np.isin(s.second, (a, b))
            spare = (bool(self.of_sides([(a, b)])), float(np.minimum(apart - s.least, 50.0)[touched].mean()))
            if spare > best:
                best, out = spare, (min(a, b), max(a, b))
        return out

    def _pairs(self, group: BoolArray) -> Iterator[tuple[int, int]]:
        for a in np.flatnonzero(group):
            for b in np.flatnonzero(self.known):
                if b > a or (b < a and not group[b]):
                    yield int(a), int(b)

    def sides(self, wrong: BoolArray, group: BoolArray) -> list[tuple[int, int]]:
        """The pairs of the group that lie on each other's side, where exchanging all of them mends something else too."""
        s = self.standing
        own = [k for k in np.flatnonzero(wrong & group[s.first]) if s.relations[k].pair]
        pairs = [(int(s.first[k]), int(s.second[k])) for k in own]
        return pairs if pairs and self.wrong(self._order(pairs)).sum() + len(pairs) <= wrong.sum() else []

    def blamed(self, wrong: BoolArray) -> tuple[int, ...]:
        """The landmark that most of the wrong relations concern; both of a relation where nothing tells which it is."""
        s = self.standing
        count = np.bincount(s.first[wrong], minlength=len(s.names)) + np.bincount(
            s.second[wrong], minlength=len(s.names)
        )
        if count.max() > 1:
            return (int(count.argmax()),)
        k = int(np.flatnonzero(wrong)[0])
        both = int(s.first[k]), int(s.second[k])
        unlike = [self._unlike_other_side(one, k) for one in both]
        clear = max(unlike) > _TIMES_UNLIKE * min(unlike)
        return (both[int(np.argmax(unlike))],) if clear else both

    def _unlike_other_side(self, one: int, but: int) -> float:
        """Median difference [mm] between a landmark's other relations and the same ones on the other side; 0 where none is."""
        s = self.standing
        apart = s.apart(self.place)
        assert apart is not None
        own = np.flatnonzero(((s.first == one) | (s.second == one)) & (s.mirror >= 0))
        own = own[own != but]
        return float(np.median(np.abs(apart[own] - apart[s.mirror[own]]))) if len(own) else 0.0

    def swap(self, pairs: Iterable[tuple[int, int]]) -> None:
        self.place = self.place[self._order(pairs)]

    def _order(self, pairs: Iterable[tuple[int, int]]) -> IntArray:
        order = np.arange(len(self.place))
        for a, b in pairs:
            order[[a, b]] = order[[b, a]]
        return order

    def worst(self, wrong: BoolArray, about: tuple[int, ...]) -> "_Worst":
        """The relation to these landmarks that is most wrong."""
        s = self.standing
        apart = s.apart(self.place)
        assert apart is not None
        own = wrong & (np.isin(s.first, about) | np.isin(s.second, about))
        k = int(np.where(own, apart - s.least, np.inf).argmin())
        return _Worst(s.relations[k], float(apart[k]), float(s.least[k]), int(own.sum()))

    def exchange_rows(self, wrong: BoolArray, pair: tuple[int, int]) -> list[Finding]:
        """Two labels that should change places."""
        if self.of_sides([pair]):
            return []  # said with all others of their kind
        one, other = (self.standing.names[k] for k in pair)
        labels = " and ".join(self.label(k) for k in pair)
        worst = self.worst(wrong, pair)
        relation = worst.relation
        if {one, other} == {relation.first, relation.second} and relation.limit == "lateral_least":
            return [self._lateral(worst)]
        advice = (
            f"{self._said(worst)} With {labels} exchanged all is in order: the two labels are exchanged, in this "
            "file or, where every trial shows it, in the marker set."
        )
        return self._rows(pair, worst, advice)

    def of_sides(self, pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
        """Those that are the right and the left one of a landmark."""
        names = self.standing.names
        return [(a, b) for a, b in pairs if names[a][:-2] == names[b][:-2] and names[a][-2:] in ("_r", "_l")]

    def side_rows(self, pairs: list[tuple[int, int]]) -> list[Finding]:
        """Right landmarks to the left of their left ones: a row for each segment concerned."""
        out: dict[str, list[tuple[int, int]]] = {}
        for pair in pairs:
            for k in pair:
                own = out.setdefault(self.part(k), [])
                own += [pair] if pair not in own else []
        rows = []
        for segment, own in out.items():
            values = [self.worst(np.array([r.pair for r in self.standing.relations]), pair).apart for pair in own]
            labels = ", ".join(" and ".join(self.label(k) for k in pair) for pair in own)
            advice = f"{labels} lie on each other's side: exchange them in the standing trial."
            rows.append(Finding("left and right", segment, min(values), 0.0, "mm", "reject", advice))
        return rows

    def misplaced_rows(self, wrong: BoolArray, blamed: tuple[int, ...]) -> list[Finding]:
        """A landmark that no exchange puts in order."""
        worst = self.worst(wrong, blamed)
        if worst.relation.limit == "lateral_least":
            return [self._lateral(worst)]
        whose = self.label(blamed[0]) if len(blamed) == 1 else "one of the two"
        advice = f"{self._said(worst)} No exchange of two labels mends it: {whose} is misplaced or mislabelled."
        return self._rows(blamed, worst, advice)

    def _rows(self, about: tuple[int, ...], worst: "_Worst", advice: str) -> list[Finding]:
        subjects = subjects_of(self.part(k) for k in about)
        return [Finding(_CHECK, s, worst.apart, worst.least, "mm", "reject", advice) for s in subjects]

    def _lateral(self, worst: "_Worst") -> Finding:
        labels = " and ".join(self._label(n) for n in (worst.relation.first, worst.relation.second))
        advice = f"{labels} are exchanged, or the leg is turned right round: the lateral one must lie outside."
        segment = LANDMARK_SEGMENT[worst.relation.first]
        return Finding("lateral and medial", segment, worst.apart, worst.least, "mm", "reject", advice)

    def _label(self, name: str) -> str:
        return self.seen.labels[self.seen.names.index(name)]

    def _said(self, worst: "_Worst") -> str:
        first, second = self._label(worst.relation.first), self._label(worst.relation.second)
        more = f" ({worst.many} such relations in all)" if worst.many > 1 else ""
        return f"{first} lies {worst.relation.words(worst.apart)} {second}, as in nobody who stands upright{more}."
