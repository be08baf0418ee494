"""What a stage is: a pure function on a trial, its settings, what it needs and what it gives."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, Literal, TypeVar

import xarray as xr

from condyle.files.checked import Checked
from condyle.findings import Finding


class Settings(Checked):
    """Base of every stage's settings: frozen, unknown keys refused, every field described."""


S = TypeVar("S", bound=Settings)


@dataclass(frozen=True)
class Stage(Generic[S]):
    """One line of the table of contents.

    ``run`` takes a trial and settings and returns a new trial with what it found; it changes neither input, prints
    nothing and raises only on a bug. ``on`` says which trials it runs on; ``needs`` and ``gives`` name variables of the
    vocabulary.
    """

    name: str
    run: Callable[[xr.Dataset, S], tuple[xr.Dataset, list[Finding]]]
    settings: type[S]
    on: Literal["static", "movement", "every"]
    needs: frozenset[str]
    gives: frozenset[str]
    words: str
