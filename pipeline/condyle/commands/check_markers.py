"""``condyle check MARKERS.yaml``: what a marker set yields, what not and why, what one lost marker costs, weak geometry."""

from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from condyle.marker_plan import MarkerPlan, NotGiven
    from condyle.marker_plan.needs import Piece


def check_markers(path: Path) -> int:
    """Print the plan of a marker set; 1 where it yields nothing."""
    from condyle.commands.check import line_of
    from condyle.files.marker_set import load_marker_set
    from condyle.marker_plan import plan_markers

    plan = plan_markers(load_marker_set(path))
    print(*stance_lines(plan), sep="\n")
    print("weak geometry, and what the synthetic standing trial says of the set:")
    found = [line_of("markers", f) for f in (*plan.standing, *plan.weak) if f.check != "angles given"]
    print(*(found or ["  nothing"]), sep="\n")
    if not any(plan.given.values()):
        print("no measure is given, so no single marker can be lost or spared")
        return 1
    given = set().union(*plan.given.values())
    print("one marker lost in a movement trial takes with it, on one stance side at least:")
    print(*loss_lines(plan.lost_with, given), sep="\n")
    print("one marker never seen in the standing trial takes with it, on one stance side at least:")
    print(*loss_lines(plan.lost_static, given), sep="\n")
    return 0


def stance_lines(plan: "MarkerPlan") -> list[str]:
    """By stance side, how many measures are given, and the others with what they lack."""
    out = []
    alike = plan.given["right"] == plan.given["left"]
    alike = alike and _groups(plan.why["right"], _other_side) == _groups(plan.why["left"], str)
    for side in ("right",) if alike else ("right", "left"):
        heading = f"{side} stance{', and the left one likewise' if alike else ''}"
        out.append(f"{heading}: {len(plan.given[side])} measures given, {len(plan.absent[side])} not")
        out += _not_given_lines(plan.why[side], plan.given[side], {})
    return out


def _groups(groups: Sequence["NotGiven"], name_of: Callable[[str], str]) -> set[tuple[Any, ...]]:
    """The groups without their order, landmarks and segments called by ``name_of``."""
    return {
        (n.measures, n.why, frozenset((frozenset(map(name_of, p.landmarks)), name_of(p.segment)) for p in n.add))
        for n in groups
    }


def _other_side(name: str) -> str:
    return name[:-2] + {"_r": "_l", "_l": "_r"}.get(name[-2:], name[-2:])


def _not_given_lines(groups: Sequence["NotGiven"], given: Collection[str], told: dict[str, None]) -> list[str]:
    from condyle.landmark_tables import families

    by_markers = [n for n in groups if n.add]
    base = [p for p in by_markers[0].add if all(p in n.add for n in by_markers)] if by_markers and not given else []
    out = []
    if base:
        out.append(f"  no measure at all: add {_pieces(base, told)}")
    for group in groups:
        more = [p for p in group.add if p not in base]
        names = ", ".join(families(group.measures))
        if not group.add:
            out += [f"  not given: {names}", f"    {group.why}"]
        elif more:
            also = "also " if base else ""
            out += [f"  not given: {names}", f"    {also}add {_pieces(more, told)}"]
    return out


def _pieces(pieces: Sequence["Piece"], told: dict[str, None]) -> str:
    """The pieces, each reason where it is first needed."""
    words = []
    for piece in pieces:
        words.append(piece.name if piece.why in told else f"{piece.name} ({piece.why})")
        told[piece.why] = None
    return ", ".join(words)


def loss_lines(lost: dict[str, tuple[str, ...]], given: Collection[str]) -> list[str]:
    """Labels whose loss takes the same measures with it, the costliest first."""
    from condyle.landmark_tables import families

    by_loss: dict[tuple[str, ...], list[str]] = {}
    for label, measures in lost.items():
        if measures:
            by_loss.setdefault(measures, []).append(label)
    out = []
    for measures, labels in sorted(by_loss.items(), key=lambda item: -len(item[0])):
        what = "every measure" if set(measures) == set(given) else ", ".join(families(measures, given))
        out.append(f"  {', '.join(labels)}: {what}")
    return out or ["  nothing: every single marker can be spared"]
