"""The sample: a forward model of a person who squats, with the truth beside what the cameras saw.

Every number here is invented; the scenario is the yearly knee screening of a mountain-rescue team, participants MR01,
MR02 ... The model shares no function with ``condyle.mechanics`` or ``condyle.stages``: it is what they are tested on.

In memory: :func:`build_person`, :data:`MOVEMENTS`, :func:`simulate`, :func:`simulate_static`, :func:`simulate_session`.
On disk: :func:`write_session`, :func:`write_sample`.
"""

from condyle.sample.cohort import REALISTIC, Style, cohort, drawn_session, write_sample
from condyle.sample.matched import matched_pair
from condyle.sample.movements import MOVEMENTS, Movement
from condyle.sample.options import NO_ERRORS, Errors, Options
from condyle.sample.person import Person, Posture, build_person, check_person, random_person
from condyle.sample.sessions import SimulatedSession, simulate_session, write_session
from condyle.sample.simulate import SimulatedTrial, simulate, simulate_bouts, simulate_static

__all__ = [
    "MOVEMENTS",
    "NO_ERRORS",
    "REALISTIC",
    "Errors",
    "Movement",
    "Options",
    "Person",
    "Posture",
    "SimulatedSession",
    "SimulatedTrial",
    "Style",
    "build_person",
    "check_person",
    "cohort",
    "drawn_session",
    "matched_pair",
    "random_person",
    "simulate",
    "simulate_bouts",
    "simulate_session",
    "simulate_static",
    "write_sample",
    "write_session",
]
