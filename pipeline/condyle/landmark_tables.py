"""Which landmark gives which measures: the marker plan of a set as tables for the docs."""

from collections.abc import Collection, Sequence

from condyle.body_names import LANDMARK_SEGMENT
from condyle.files.marker_set import MarkerSet
from condyle.marker_plan import MarkerPlan
from condyle.measure_dictionary import ANGLE_SUFFIXES, MEASURES, POINT_SUFFIXES

_ENDS = sorted((*ANGLE_SUFFIXES, *POINT_SUFFIXES), key=len, reverse=True)


def landmark_tables(markers: MarkerSet, plan: MarkerPlan) -> str:
    """What the set gives, what not and why, and what goes with each of its points: never seen, or lost in movement."""
    given = _either(plan.given)
    lines = [
        f"{len(given)} of {len(MEASURES)} measures.",
        "",
        "| not given | add | why |",
        "|---|---|---|",
        *(f"| {names} | {add} | {why} |" for names, add, why in not_given_rows(plan)),
        "",
        "| points | seen in no trial, takes with it | lost in a movement trial, takes with it |",
        "|---|---|---|",
    ]
    lines += [f"| {names} | {without} | {lost} |" for names, without, lost in loss_rows(markers, plan)]
    return "\n".join(lines) + "\n"


def not_given_rows(plan: MarkerPlan) -> list[tuple[str, str, str]]:
    """What is given on neither stance side: (measures, pieces to add on the stance side, why)."""
    given = set(_either(plan.given))
    out = []
    for group in plan.why["right"]:
        if measures := [m for m in group.measures if m not in given]:
            names = ", ".join(f"`{name}`" for name in families(measures))
            add = ", ".join(_of_stance_side(p.name) for p in group.add) or "nothing"
            why = "; ".join(dict.fromkeys(p.why for p in group.add)) or group.why
            out.append((names, add, why))
    return out


def _of_stance_side(name: str) -> str:
    return f"{name[:-2]} of the stance side" if name.endswith("_r") and name != "acromion_r" else name


def loss_rows(markers: MarkerSet, plan: MarkerPlan) -> list[tuple[str, str, str]]:
    """Points that take the same with them in one row: (names, lost with the point never seen, lost in movement)."""
    given = _either(plan.given)
    by_loss: dict[tuple[str, str], list[str]] = {}
    for name in markers.points:
        label = markers.label_of(name)
        if label not in plan.lost_static:
            continue
        fixed = name in markers.static_points
        lost = "(taken off after the standing trial)" if fixed else said(plan.lost_with[label], given)
        by_loss.setdefault((said(plan.lost_static[label], given), lost), []).append(name)
    return [(_names(names), without, lost) for (without, lost), names in by_loss.items()]


def said(lost: Collection[str], given: Collection[str]) -> str:
    """Measure names as a reader takes them in: all of an angle or a path as one, all there are as 'every measure'."""
    if not lost:
        return "nothing"
    return "every measure" if set(lost) == set(given) else ", ".join(f"`{name}`" for name in families(lost, given))


def families(lost: Collection[str], given: Collection[str] = MEASURES) -> list[str]:
    """Names in the dictionary's order, all that is given of an angle or a path as `hip_flexion_*`."""
    stems: dict[str, list[str]] = {}
    for name in MEASURES:
        if name in given or name in lost:
            stems.setdefault(_stem(name), []).append(name)
    gone = set(lost)
    out = []
    for stem, names in stems.items():
        missing = [n for n in names if n in gone]
        out += [f"{stem}_*"] if len(missing) == len(names) > 1 else missing
    return out


def _stem(name: str) -> str:
    end = next((e for e in _ENDS if name.endswith(f"_{e}")), "")
    return name.removesuffix(f"_{end}") if end else name


def _names(names: Sequence[str]) -> str:
    """``asis_r``, ``asis_l`` as `asis_*`; labels of plates as they are."""
    out: dict[str, None] = {}
    for name in names:
        other = name[:-2] + {"_r": "_l", "_l": "_r"}.get(name[-2:], name[-2:])
        both = name in LANDMARK_SEGMENT and other != name and other in names
        out[f"`{name[:-2]}` (both sides)" if both else f"`{name}`"] = None
    return ", ".join(out)


def _either(by_side: dict[str, tuple[str, ...]]) -> tuple[str, ...]:
    found = set().union(*by_side.values())
    return tuple(name for name in MEASURES if name in found)
