"""uncertainty: 95 % limits of measures and contributions, and the cause that the draws can name."""

from typing import Annotated, Any

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.files.limits import KnownLimits, load_limits, overlaid
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.verdict import interval
from condyle.stages.accounts import ACCOUNTS, SOURCES, SOURCES_ABOVE, SOURCES_BELOW, leg_through, repetition_rows
from condyle.stages.causes import (
    Drawn,
    bottom_tables,
    headings_to_try,
    leave_shallow_open,
    named_causes,
    remark_rebuilt,
)
from condyle.stages.contributions import below_table, contributions_settings_of, said_of, with_causes
from condyle.stages.drawn_accounts import DrawnAccounts, Moments, drawn_accounts
from condyle.stages.drawn_measures import measure_deviations
from condyle.stages.drawn_views import PlanarView
from condyle.stages.draws import draws_through
from condyle.stages.remarks import remark_findings
from condyle.stages.stage import Settings
from condyle.trial_data import put

_ABOVE = np.array([SOURCES.index(n) for n in SOURCES_ABOVE])
_BELOW = np.array([SOURCES.index(n) for n in SOURCES_BELOW])


UNCERTAINTY = frozenset({"measure_lower", "measure_upper", "contribution_lower", "contribution_upper"})


class UncertaintySettings(Settings):
    """How many draws, from which seed, and how large the errors are."""

    draws: int = Field(
        200, ge=40, le=10000, description="Monte Carlo draws", json_schema_extra={"unit": "1", "source": "ours"}
    )
    seed: int = Field(
        1, ge=0, le=4_294_967_295, description="the same seed gives the same numbers", json_schema_extra={"unit": "1"}
    )
    sd_scale: float = Field(
        1.0,
        ge=0,
        le=5,
        description="all standard deviations times this; 0.5 shows what better palpation buys",
        json_schema_extra={"unit": "1", "source": "ours"},
    )
    sds: Annotated[dict[str, float], KnownLimits("uncertainty")] = Field(
        {}, description="standard deviations that differ from configs/uncertainty.yaml"
    )


def uncertainty_trial(trial: xr.Dataset, settings: UncertaintySettings) -> tuple[xr.Dataset, list[Finding]]:
    """Limits by percentiles of the draws around the values, and the verdict by the share of draws."""
    count = trial.sizes["repetition"]
    measure = {name: np.full(trial["measure_value"].shape, np.nan) for name in ("lower", "upper")}
    part = {name: np.full(trial["contribution"].shape, np.nan) for name in ("lower", "upper")}
    if count == 0:
        return _written(trial, measure, part), []
    chosen = contributions_settings_of(trial)
    limits = chosen.finding_limits()
    turns = headings_to_try(trial, limits)
    rows = repetition_rows(trial)
    legs = {side: leg_through(trial, side) for side in sorted({r.side for r in rows})}
    planar = PlanarView(chosen.planar_limits(), limits["shown_least_percent"].value / 100.0)
    tables = bottom_tables(trial, legs, turns, planar.least_shown)
    drawn = Drawn(
        np.full((len(turns), settings.draws, count, 6, len(SOURCES_ABOVE)), np.nan),
        np.full((settings.draws, count, 2, len(SOURCES_BELOW)), np.nan),
    )
    frames, moments = moments_of(trial)
    sds = overlaid(load_limits("uncertainty"), settings.sds)
    draws = draws_through(trial, frames, sds, settings.sd_scale, settings.seed, settings.draws)
    for side, leg in legs.items():
        mine = np.array([k for k, r in enumerate(rows) if r.side == side])
        own = [rows[k] for k in mine]
        here = Moments(*(m[mine] for m in moments))
        accounts = drawn_accounts(trial, leg, own, here, draws, turns)
        _keep_accounts(trial, mine, accounts, tables, drawn, part)
        _keep_measures(trial, mine, measure_deviations(trial, own, here, draws, frames, planar), measure)
    value = trial.variables["contribution"].values
    causes = named_causes(tables, below_table(value), chosen.explain, limits, drawn)
    remark_rebuilt(trial, rows, causes)
    leave_shallow_open(trial, rows, causes, limits)
    # what the point values already said has its row
    new = [[w for w in now if w not in said] for now, said in zip(causes.remarks, said_of(trial), strict=True)]
    found = remark_findings(trial, rows, tables, new, chosen.explain, limits, by="draws")
    return with_causes(_written(trial, measure, part), causes), found


def moments_of(trial: xr.Dataset) -> tuple[np.ndarray[Any, Any], Moments]:
    """The frames to draw, and where each repetition's moments lie among them."""
    start, bottom, end = (trial.variables[f"repetition_{n}"].values for n in ("start", "bottom", "end"))
    at_60 = trial.variables["repetition_at_60"].values
    sixty = np.where(np.isfinite(at_60), np.rint(np.nan_to_num(at_60)), start).astype(np.int64)
    frames, place = np.unique(np.concatenate([start, bottom, end, sixty]), return_inverse=True)
    return frames, Moments(*place.reshape(4, -1))


def _keep_accounts(
    trial: xr.Dataset,
    mine: np.ndarray[Any, Any],
    accounts: DrawnAccounts,
    tables: FloatArray,
    drawn: Drawn,
    part: dict[str, FloatArray],
) -> None:
    """Draws about the point values: the value plus the draw's deviation from the draw without errors."""
    value = trial.variables["contribution"].values[mine]
    drawn.table[:, :, mine] = tables[:, None, mine] + accounts.bottom[:, 1:] - accounts.bottom[:, :1]
    six, below = accounts.at_60[1:] - accounts.at_60[:1], accounts.below[1:] - accounts.below[:1]
    at_60 = value[:, 6:9][..., _ABOVE] + six
    from_below = value[:, 9:][..., _BELOW] + below
    for k, limit in enumerate(("lower", "upper")):
        for columns, sources, values in (
            (np.arange(6), _ABOVE, drawn.table[0][:, mine]),
            (np.arange(6, 9), _ABOVE, at_60),
            (np.arange(9, len(ACCOUNTS)), _BELOW, from_below),
        ):
            part[limit][np.ix_(mine, columns, sources)] = interval(values)[k]
    change = from_below.sum(axis=-1)
    drawn.below[:, mine] = np.concatenate([from_below[..., :3], change[..., None]], axis=-1)


def _keep_measures(
    trial: xr.Dataset,
    mine: np.ndarray[Any, Any],
    deviations: dict[str, FloatArray],
    measure: dict[str, FloatArray],
) -> None:
    column = {str(n): k for k, n in enumerate(trial.variables["measure"].values)}
    names = [n for n in deviations if n in column]
    low, high = interval(np.stack([deviations[n] for n in names], axis=-1))
    where = np.ix_(mine, np.array([column[n] for n in names]))
    value = trial.variables["measure_value"].values[where]
    measure["lower"][where], measure["upper"][where] = value + low, value + high


def _written(trial: xr.Dataset, measure: dict[str, FloatArray], part: dict[str, FloatArray]) -> xr.Dataset:
    known = np.isfinite(trial.variables["contribution"].values)
    return put(
        trial,
        measure_lower=measure["lower"] + 0.0,
        measure_upper=measure["upper"] + 0.0,
        contribution_lower=np.where(known, part["lower"], np.nan) + 0.0,
        contribution_upper=np.where(known, part["upper"], np.nan) + 0.0,
    )
