"""Leading dimensions broadcast: a batch through a formula equals the formula on each of its elements.

The arguments are made from the docstrings: every function with a '...' in an argument's shape is taken in by itself.
Where random numbers of that shape make no sense, add the function to ``SPECIAL`` with arguments that do; where a batch
has no meaning, to ``LEFT_OUT`` with the reason.
"""

import dataclasses
import inspect
import re

import numpy as np
import pytest

from condyle.mechanics.posture import Posture
from condyle.mechanics.rigidity import Loose, Meeting, Rig
from condyle.mechanics.verdict import VerdictLimits
from tests.test_docstring_grammar import FUNCTIONS, LINE

LEAD = (7, 2)  # sizes that no other dimension has in this order: where they stand in a shape, there is the batch
SIZES = {"T": 60, "P": 5, "n": 12, "g": 3, "D": 40, "draws": 40, "clusters": 6, "c": 3, "t": 8, "r": 4, "p": 3, "f": 11}
WORDS = {"side": "left", "joint": "knee", "max_gap_frames": 4, "rate_hz": 100.0, "cutoff_hz": 6.0, "judges": 4}
SHAPE = re.compile(r"^\(([^)]*)\)")


def numbers(rng, shape, unit):
    """Random numbers that suit a shape and a unit."""
    if shape[-2:] == (3, 3) and unit == "1":
        rotation, _ = np.linalg.qr(rng.normal(size=shape))
        return rotation * np.linalg.det(rotation)[..., None, None]
    if unit in ("1", "unit^2"):
        return rng.uniform(0.5, 2.0, shape)
    if unit.startswith("rad"):
        return rng.uniform(-1.0, 1.0, shape)
    return rng.normal(100.0, 60.0, shape)


def described(function):
    """The docstring's line of each argument."""
    lines = dict(found.groups() for line in inspect.getdoc(function).splitlines() if (found := LINE.match(line)))
    return {name: lines[name] for name in inspect.signature(function).parameters if name in lines}


def made(function, rng):
    """Arguments made from the docstring, as far as it goes."""
    values = {}
    for name, line in described(function).items():
        shape = SHAPE.match(line)
        dims = [d.strip() for d in shape.group(1).split(",") if d.strip()] if shape else []
        if dims and all(d == "..." or d.isdigit() or d in SIZES for d in dims):
            unit = re.search(r"\[([^\]]+)\]", line).group(1)
            sizes = [LEAD if d == "..." else (int(d) if d.isdigit() else SIZES[d],) for d in dims]
            values[name] = numbers(rng, tuple(size for part in sizes for size in part), unit)
        elif name in WORDS and inspect.signature(function).parameters[name].default is inspect.Parameter.empty:
            values[name] = WORDS[name]
    return values


def clusters(values, rng):
    return values | {"cluster": np.arange(12) % 3}


def posture(rng):
    angles, lines = numbers(rng, (9, *LEAD), "rad"), numbers(rng, (2, 3, *LEAD), "mm")
    return Posture(angles, lines[0], lines[1], numbers(rng, LEAD, "rad"))


BODY = [f"{n}_{s}" for n in ("hip", "knee", "ankle", "acromion") for s in "lr"] + ["c7", "jugular_notch", "xiphoid"]


def rig(rng):
    """Two segments of four and three markers with one rider and one loose landmark, which share a joint."""
    models = tuple(rng.normal(0, 60, (n, 3)) for n in (4, 3))
    meeting = Meeting(0, np.array([0.0, -200, 0]), 1, np.array([0.0, 200, 0]))
    columns, riders = (np.arange(4), np.arange(4, 7)), (np.array([7]), np.array([], dtype=int))
    on = Loose(np.array([2]), np.array([1]), rng.normal(0, 60, (1, 3)))
    return Rig(columns, models, riders, (rng.normal(0, 60, (1, 3)), np.empty((0, 3))), (meeting,), on)


LIMITS = VerdictLimits(5, 3, 0.95, 0.2, 0.9, 0.3, 5, 0.2)
SPECIAL = {  # name: (arguments made from the docstring, random numbers) -> arguments
    "agreement_repeated.within_and_between": clusters,
    "agreement_repeated.limits_repeated": clusters,
    "agreement_repeated.correlation_within": clusters,
    "association.grouped": lambda v, rng: v | {"group": np.arange(12) % 4, "groups": 4},
    "butterworth.design_frequency": lambda v, rng: {
        "cutoff_hz": rng.uniform(3, 12, LEAD),
        "rate_hz": 100 + v["rate_hz"],
    },
    "centre_of_mass.centre_of_mass": lambda v, rng: {"points": {n: numbers(rng, (*LEAD, 3), "mm") for n in BODY}},
    "gaps.longest_run": lambda v, rng: {"mask": v["mask"] > 1.0},
    "joint_centres.centre_from_width": lambda v, rng: v | {"half_width": rng.uniform(20, 60, LEAD)},
    "joint_centres.centre_from_width_front": lambda v, rng: v | {"half_width": rng.uniform(5, 15, LEAD)},
    "normalise.at_frames": lambda v, rng: v | {"frames": np.array([0.0, 3.25, 58.5, np.nan, 59.0])},
    "path.segment_tilt": lambda v, rng: v | {"axis": 2},
    "posture.measured_of": lambda v, rng: {"posture": posture(rng)},
    "posture.turned": lambda v, rng: v | {"posture": posture(rng)},
    "posture.divided": lambda v, rng: v | {n: posture(rng) for n in ("now", "then", "standing")},
    "projection.camera_picture": lambda v, rng: v | {"distance": 3000.0, "height": 900.0, "yaw": 0.2},
    "projection.camera_sight": lambda v, rng: v | {"distance": 3000.0, "height": 900.0, "yaw": 0.2},
    "projection.readable": lambda v, rng: v | {"least": 0.3},
    "reliability.mean_squares": lambda v, rng: v | {"score": rng.normal(size=(12, 4))},
    "residual_analysis.residual_cutoff": lambda v, rng: v | {"rate_hz": 40.0},
    "rigidity.carried": lambda v, rng: {"points": numbers(rng, (*LEAD, 8, 3), "mm"), "rig": rig(rng)},
    "rigidity.pair_distances": lambda v, rng: {
        "points": numbers(rng, (*LEAD, 8, 3), "mm"),
        "pairs": np.array([[0, 1], [3, 7], [2, 6]]),
    },
    "roc.area": lambda v, rng: v | {"positive": np.arange(12) % 2 == 0},
    "roc.operating_points": lambda v, rng: v | {"positive": np.arange(12) % 2 == 0},
    "rotations.mean_rotation": lambda v, rng: {"rotation": numbers(rng, (60, *LEAD, 3, 3), "1")},
    "verdict.verdict": lambda v, rng: v | {"limits": LIMITS},
    "verdict.verdict_from_below": lambda v, rng: v | {"limits": LIMITS},
}
LEFT_OUT = {
    "relabelling.misfit_of_frames": "takes what rigidity.carried gives frame by frame, which is tested as a batch",
    "calibration.body_frames": "takes landmarks by name: see test_calibration",
    "pelvis_and_hips.place_pelvis_and_hips": "takes landmarks by name: see test_calibration",
    "standing_body.place_frame": "writes into a body: see test_calibration",
    "pelvis_and_hips.mid_back": "takes landmarks by name: see test_calibration",
    "gaps.columns_of": "flattens the batch on purpose",
    "shapley.shapley_values": "its first axes are the factors: see test_shapley",
}


def arguments(name, rng):
    return SPECIAL.get(name, lambda values, rng: values)(made(FUNCTIONS[name], rng), rng)


def can_be_called(name):
    parameters = inspect.signature(FUNCTIONS[name]).parameters.values()
    wanted = {p.name for p in parameters if p.default is inspect.Parameter.empty}
    return wanted <= set(arguments(name, np.random.default_rng(0)))


BROADCASTING = [
    name
    for name, function in FUNCTIONS.items()
    if name not in LEFT_OUT and (name in SPECIAL or any("..." in line for line in described(function).values()))
]


def batch_axis(array):
    """Where the batch begins in a shape, or None."""
    return next((k for k in range(array.ndim - 1) if array.shape[k : k + 2] == LEAD), None)


def element(value, i, j):
    """One element of the batch, of an array or of each array in a named tuple or mapping."""
    if isinstance(value, dict):
        return {name: element(part, i, j) for name, part in value.items()}
    if isinstance(value, tuple) and hasattr(value, "_fields") and not isinstance(value, (VerdictLimits, Rig)):
        return type(value)(*(element(part, i, j) for part in value))
    if not isinstance(value, np.ndarray) or (axis := batch_axis(value)) is None:
        return value
    return value[(slice(None),) * axis + (i, j)]


def with_one_missing(values):
    """The same arguments, where one element of the batch has lost one number of its first array."""
    name = next((n for n, v in values.items() if isinstance(v, np.ndarray) and v.dtype.kind == "f"), None)
    if name is None or (axis := batch_axis(values[name])) is None:
        return values
    array = values[name].copy()
    array[tuple({axis: 3, axis + 1: 1}.get(d, 0) for d in range(array.ndim))] = np.nan
    return values | {name: array}


def leaves(result):
    """The arrays in whatever comes out."""
    if dataclasses.is_dataclass(result):
        return [leaf for field in dataclasses.fields(result) for leaf in leaves(getattr(result, field.name))]
    if isinstance(result, (tuple, list)):
        return [leaf for part in result for leaf in leaves(part)]
    return [np.asarray(result)]


def same(a, b):
    return np.array_equal(a, b) if a.dtype.kind in "USbi" else np.allclose(a, b, rtol=1e-9, atol=1e-9, equal_nan=True)


@pytest.mark.parametrize("name", [name for name in BROADCASTING if can_be_called(name)])
@pytest.mark.parametrize("missing", [False, True], ids=["complete", "one_missing"])
def test_batch_equals_loop(name, missing):
    function, values = FUNCTIONS[name], arguments(name, np.random.default_rng(12))
    values = with_one_missing(values) if missing else values
    whole, batches = leaves(function(**values)), 0
    for i, j in np.ndindex(LEAD):
        alone = leaves(function(**{n: element(v, i, j) for n, v in values.items()}))
        for k, (array, single) in enumerate(zip(whole, alone, strict=True)):
            here = element(array, i, j)
            assert here.shape == single.shape, f"{name}: result {k} is {array.shape} in the batch, {single.shape} alone"
            assert same(here, single), f"{name}: result {k} of element {i}, {j} differs from that of the loop"
            batches += batch_axis(array) is not None
    assert batches, f"{name}: nothing that comes out has the batch in its shape"


def test_every_broadcasting_function_is_tested_or_left_out_for_a_reason():
    wanting = [name for name in BROADCASTING if not can_be_called(name)]
    assert not wanting, f"give {', '.join(wanting)} arguments in SPECIAL, or a reason in LEFT_OUT"
    assert {*SPECIAL, *LEFT_OUT} <= set(FUNCTIONS), f"gone: {sorted({*SPECIAL, *LEFT_OUT} - set(FUNCTIONS))}"
