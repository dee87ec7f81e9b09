"""Draws → the arrays of the loop, and the state a work begins with.

All arrays here have shape (works, n). What the draws give in the trade's units becomes strain, psi
(0 to 1), hours and metres.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from analysis.chain.cockle import buckling_strain, slack_of_height, slack_of_slope
from analysis.chain.enclosure import LN2, hold_weights, saturation_pressure_pa, slope_at_half
from analysis.chain.headroom import per_rh
from analysis.chain.isotherm import gab_of, heat_polynomial, shift_per_k
from analysis.chain.relaxation import HOUR_S, prony
from analysis.chain.tension import series_factor
from analysis.errors import NotEnoughError
from analysis.parameters import parameter
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.priors import Draws, axes_of
from analysis.simulation.refusals import RefusalLimits, require_drawn
from analysis.simulation.weeks import WEEK_H
from analysis.works import GLAZED, Work

HOURS_PER_YEAR = 8766.0
SOFTEST = 3.0  # stiffness falls to a quarter from 50 %RH to damp: so far the loop's exp(x) holds


@dataclass(frozen=True)
class Stacked:
    """Draws of several works by name, each of shape (works, n), and their weights."""

    works: tuple[Work, ...]
    values: Mapping[str, Floats]
    weight: Floats

    def __getitem__(self, name: str) -> Floats:
        """Return one parameter of all works."""
        return self.values[name]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the parameters."""
        return tuple(self.values)

    def facts(self, name: str) -> Floats:
        """Return a number of each work itself, shape (works, 1)."""
        return np.array([[float(getattr(work, name))] for work in self.works])


def stack(
    works: Sequence[Work], draws: Mapping[str, Draws], weights: Mapping[str, Floats] | None
) -> Stacked:
    """Return the draws of several works side by side.

    Raises
    ------
    NotEnoughError
        If a work has no draws, or not as many as the others.
    OutOfRangeError
        If a work or one of its draws cannot be.
    """
    sizes = {work.work_id: draws[work.work_id].n if work.work_id in draws else 0 for work in works}
    if len(set(sizes.values())) > 1 or 0 in sizes.values():
        raise NotEnoughError(
            read="draws",
            where=", ".join(sizes),
            found=", ".join(str(n) for n in sizes.values()),
            expected="the same number of draws for every work",
            action="Draw each work with analysis.simulation.priors.draw and the same n.",
        )
    names = draws[works[0].work_id].values if works else {}
    drawn = [draws[work.work_id].values for work in works]
    n = next(iter(sizes.values()), 1)
    values = {
        name: np.concatenate([one[name] for one in drawn]).reshape(len(works), n) for name in names
    }
    given = weights or {}
    equal = np.full(n, 1.0 / n)
    weight = np.stack([_normal(given.get(work.work_id), equal) for work in works])
    require_drawn(works, values)
    return Stacked(tuple(works), values, weight)


def stacked_part(stacked: Stacked, rows: Sequence[int]) -> Stacked:
    """Return some of the works."""
    index = list(rows)
    parts = {name: stacked[name][index] for name in stacked.names}
    return Stacked(tuple(stacked.works[i] for i in index), parts, stacked.weight[index])


def _normal(weight: Floats | None, equal: Floats) -> Floats:
    return equal if weight is None else np.asarray(weight / np.sum(weight), dtype=np.float64)


def constants(step_h: float = 1.0) -> Floats:
    """Return the numbers that all works share through steps so long, by `layout.CONSTANTS`."""
    return _constants(step_h).copy()


@cache
def _constants(step_h: float) -> Floats:
    fit, gab, limits = prony(), gab_of("frame_board"), RefusalLimits()
    r = step_h * HOUR_S / fit.times_s
    weights = [hold_weights(float(x)) for x in r]
    humidity = [
        parameter("prints", "humidity", name).value / 100.0
        for name in ("linear_from", "linear_to", "release_from", "release_to")
    ]
    of_six = {
        "heat": heat_polynomial(),
        "k": fit.weights,
        "decay": np.exp(-r),
        "begin": [begin for begin, _ in weights],
        "end": [end for _, end in weights],
    }
    named = {
        "magnus_a": parameter("moisture", "magnus", "a").value,
        "magnus_b": parameter("moisture", "magnus", "b").value,
        "gab_c": gab.c,
        "gab_k": gab.k,
        "half_slope": slope_at_half(),
        **{f"{name}_{i}": x for name, values in of_six.items() for i, x in enumerate(values)},
        "linear_from": humidity[0],
        "linear_to": humidity[1],
        "release_from": humidity[2],
        "release_per": 1.0 / (humidity[3] - humidity[2]),
        "week_decay": np.exp(-step_h / WEEK_H),
        "widest_pct": limits.band_rh_pct,
        "most": limits.probability,
    }
    return np.array([named[name] for name in layout.CONSTANTS])


def _hold(step_h: float, time_h: Floats) -> tuple[Floats, Floats]:
    """Return the exact weights of a step for an array of time constants."""
    r = step_h / time_h
    mean = np.where(r > 1e-3, -np.expm1(-r) / np.maximum(r, 1e-12), 1.0 - r / 2.0 + r * r / 6.0)
    return mean - np.exp(-r), 1.0 - mean


def relax_m(draws: Stacked) -> Floats:
    """Return the relaxation per decade, held where 7 % of the tension is left for good."""
    return np.minimum(draws["relax_per_decade"], prony().largest_m)


def heat_scale(draws: Stacked) -> Floats:
    """Return the net heat of sorption over that of the table."""
    return draws["shift_per_k"] / shift_per_k()


def outside_factor(draws: Stacked) -> Floats:
    """Return the expansion outside 25-70 %RH over that inside."""
    return 1.0 + draws["gelatin_share"] * (draws["gelatin_outside_factor"] - 1.0)


def humidity_path(psi: Floats, outside: Floats) -> Floats:
    """Return `sheet.humidity_path` over arrays."""
    low = parameter("prints", "humidity", "linear_from").value / 100.0
    high = parameter("prints", "humidity", "linear_to").value / 100.0
    inside = np.clip(psi, low, high)
    return np.asarray(inside + outside * (psi - inside))


def psi_from(rh_pct: Floats, temp_c: Floats, scale: Floats) -> Floats:
    """Return psi of a sheet at rest with air of a humidity and temperature, over arrays."""
    phi = rh_pct / 100.0
    term = scale * (temp_c - 20.0) / (293.15 * (273.15 + temp_c))
    psi = _within(phi)
    for _ in range(20):
        before, psi = psi, _within(phi / np.exp(term * _heat(psi)))
        if np.array_equal(before, psi):
            break
    return np.asarray(psi)


def _within(psi: Floats) -> Floats:
    return np.minimum(np.maximum(psi, 0.01), 0.98)


def _heat(psi: Floats) -> Floats:
    """Return the heat polynomial over an array, by Horner's rule."""
    *lower, highest = heat_polynomial()
    found = np.full_like(psi, highest)
    for each in reversed(lower):
        found = each + found * psi
    return found


def shift_from(psi: Floats, temp_c: Floats, scale: Floats) -> Floats:
    """Return f = phi / psi over arrays."""
    term = scale * (temp_c - 20.0) / (293.15 * (273.15 + temp_c))
    return np.asarray(np.exp(term * _heat(psi)))


def _mounted_psi(draws: Stacked) -> Floats:
    return psi_from(draws["mounted_rh_pct"], draws["mounted_temp_c"], heat_scale(draws))


def _expansion_rows(draws: Stacked) -> dict[str, Floats]:
    rows: dict[str, Floats] = {}
    psi, outside = _mounted_psi(draws), outside_factor(draws)
    path = humidity_path(psi, outside)
    for axis in ("md", "cd"):
        beta = 100.0 * draws[f"beta_{axis}"]
        panel = 100.0 * draws[f"panel_beta_along_{axis}"]
        alpha = draws[f"panel_alpha_along_{axis}"] - draws[f"alpha_{axis}"]
        branch = beta * draws["hysteresis_offset_rh_pct"] / 100.0
        rows[f"beta_{axis}"], rows[f"panel_{axis}"], rows[f"alpha_{axis}"] = beta, panel, alpha
        rows[f"start_{axis}"] = (
            draws["prestrain"]
            + beta * path
            - panel * psi
            - alpha * draws["mounted_temp_c"]
            + branch
        )
        rows[f"shrink_{axis}"] = draws[f"shrinkage_{axis}"]
        rows[f"per_rh_{axis}"] = per_rh(beta / 100.0, panel / 100.0)
        rows[f"per_dry_{axis}"] = per_rh(panel / 100.0, beta / 100.0)
    rows["outside"] = outside
    return rows


def _tension_rows(draws: Stacked, step_h: float) -> dict[str, Floats]:
    """Return stiffness, relaxation and hinges; what they sustain as a reserve of strain."""
    fit = prony()
    end = np.array([hold_weights(float(step_h * HOUR_S / tau))[1] for tau in fit.times_s])
    m = relax_m(draws)
    end_share = m * float(fit.weights @ end)
    coverage = draws["hinge_coverage"]
    rows = {"relax_m": m, "zero_gain": 1.0 / (1.0 - end_share)}
    bled = -np.expm1(-step_h / (24.0 * draws["hinge_creep_days"]))
    axes = axes_of(draws.facts("width_mm"), draws.facts("height_mm"), draws.values)
    for axis, (length, ea) in axes.items():
        free = draws["hinge_free_length_mm"] / 1000.0
        f = series_factor(length, ea, free, coverage, draws["hinge_stiffness_n_m"])
        rows[f"mat_gain_{axis}"] = f / (1.0 - (1.0 - f) * end_share)
        rows[f"left_{axis}"] = (1.0 - end_share) / (1.0 - (1.0 - f) * end_share)
        rows[f"gain_{axis}"] = f
        rows[f"ea_{axis}"] = ea
        rows[f"creep_{axis}"] = bled / f
        rows[f"sustain_{axis}"] = draws["hinge_sustained_n_m"] * coverage / ea
        capacity = draws["hinge_capacity_n_m"] * coverage / ea
        rows[f"load_{axis}"] = f / capacity
    rows["week_limit"] = draws["hinge_week_strain"]
    soften = 100.0 * draws["softening_per_pct"] * draws["moisture_slope"]
    rows["soften"] = np.minimum(soften, SOFTEST)
    rows["sorptive"] = 100.0 * draws["mechano_sorptive_per_pct"] * draws["moisture_slope"]
    rows["deadband"] = draws["hysteresis_rh_pct"] / 200.0
    return rows


def _air_rows(draws: Stacked, step_h: float) -> dict[str, Floats]:
    begin, end = _hold(step_h, draws["thermal_time_h"])
    begin_half, end_half = _hold(0.5 * step_h, draws["thermal_time_h"])
    rate = step_h * LN2
    return {
        "rh_offset": draws["sensor_offset_pct"] / 100.0,
        "frame_c": draws["frame_minus_logger_k"],
        "drift": draws["logger_drift_pct_a"] / 100.0,
        "gap_fill": draws["gap_fill"],
        "wall_factor": draws["wall_factor"],
        "outdoor_c": draws["outdoor_temp_c"],
        "heat_begin": begin,
        "heat_end": end,
        "heat_begin_half": begin_half,
        "heat_end_half": end_half,
        "heat_scale": heat_scale(draws),
        "frame_rate": rate / draws["half_time_h"],
        "core_rate": rate / draws["core_half_time_h"],
        "image_rate": rate / draws["image_half_time_h"],
        "panel_rate": rate / draws["panel_half_time_h"],
        "image_share": draws["image_share"],
    }


def _surface_rows(draws: Stacked) -> dict[str, Floats]:
    width, height = draws.facts("width_mm") / 1000.0, draws.facts("height_mm") / 1000.0
    buckle = buckling_strain(draws["thickness_mm"] / 1000.0, 1.0, 1.0, draws["poisson"])
    buckle = buckle * 0.5 * (1.0 / width**2 + 1.0 / height**2)
    contact = slack_of_height(draws["gap_mm"] / 1000.0, draws["wavelength_m"])
    glazed = np.array([[work.frame in GLAZED] for work in draws.works])
    known = glazed & np.isfinite(contact)
    return {
        "buckle": buckle,
        "slack_visible": slack_of_slope(draws["visible_slope_mrad"]),
        "slack_contact": np.where(known, contact, np.inf),
        "wavelength": draws["wavelength_m"],
        "season_cos": draws["season_cos_pct"] / 100.0,
        "season_sin": draws["season_sin_pct"] / 100.0,
        "path_share": draws["path_share"],
        "weight": draws.weight,
    }


def fixed_rows(draws: Stacked, step_h: float = 1.0) -> Floats:
    """Return what stays constant through a run, shape (works, len(layout.FIXED), n).

    ``step_h`` is how long each step of the run is.
    """
    rows = {
        **_air_rows(draws, step_h),
        **_expansion_rows(draws),
        **_tension_rows(draws, step_h),
        **_surface_rows(draws),
    }
    out = np.empty((len(draws.works), len(layout.FIXED), draws.weight.shape[1]))
    for i, name in enumerate(layout.FIXED):
        out[:, i, :] = rows[name]
    return out


@dataclass(frozen=True)
class Beginning:
    """Where works begin: shapes (works, 1) or (works, n).

    Parameters
    ----------
    low_pct, high_pct : ndarray
        Humidity in the frame at the first hour, low and high copy, free of the logger's offset.
    level_c : ndarray
        Temperature at which that humidity was read: at mounting; NaN: the print's of that hour.
    of_room : ndarray of bool
        Whether that humidity is the room's, read at the room's temperature.
    held_h : ndarray
        Hours since mounting.
    room_c, outdoor_c : ndarray, shape (works, 1)
        Temperatures of the first hour; outdoor NaN where not known.
    rh_low, rh_high : ndarray, shape (works, 1)
        Room humidity of the first hour, 0 to 1.
    """

    low_pct: Floats
    high_pct: Floats
    level_c: Floats
    of_room: npt.NDArray[np.bool_]
    held_h: Floats
    room_c: Floats
    outdoor_c: Floats
    rh_low: Floats
    rh_high: Floats


def first_state(draws: Stacked, fixed: Floats, begin: Beginning) -> Floats:
    """Return the state at a work's first hour, shape (works, len(layout.STATE), n).

    Between mounting and that hour the print is taken to have been held at the strain it begins
    with: relaxation and, for creeping hinges, bleeding off have gone on for all that time.
    """
    at = {name: fixed[:, i, :] for i, name in enumerate(layout.FIXED)}
    out = np.zeros((len(draws.works), len(layout.STATE), draws.weight.shape[1]))
    row = {name: out[:, i, :] for i, name in enumerate(layout.STATE)}
    outside = np.where(np.isnan(begin.outdoor_c), at["outdoor_c"], begin.outdoor_c)
    warmer = at["frame_c"] + at["wall_factor"] * (outside - begin.room_c)
    temp = begin.room_c + warmer
    ratio = saturation_pressure_pa(temp) / saturation_pressure_pa(20.0)
    room_ratio = saturation_pressure_pa(begin.room_c) / saturation_pressure_pa(20.0)
    level = begin.low_pct + at["gap_fill"] * (begin.high_pct - begin.low_pct)
    # the room's vapour pressure in a frame that is warmer or cooler than the room's logger
    warmed = saturation_pressure_pa(begin.room_c + at["frame_c"]) / saturation_pressure_pa(20.0)
    level = level * np.where(begin.of_room, room_ratio / warmed, 1.0)
    read_c = np.where(np.isnan(begin.level_c), temp, begin.level_c)
    psi = psi_from(level, read_c, at["heat_scale"])
    room = begin.rh_low + at["gap_fill"] * (begin.rh_high - begin.rh_low) + at["rh_offset"]
    drive = np.clip(room, 0.0, 1.0) * room_ratio / ratio
    row["outer_c"][:], row["temp_c"][:], row["ratio"][:] = temp, temp, ratio
    row["shift"][:] = shift_from(psi, temp, at["heat_scale"])
    row["drive"][:] = np.clip(drive / row["shift"], 0.01, 0.98)
    for name in ("psi_frame", "psi_image", "psi_core", "psi_panel", "play", "peak"):
        row[name][:] = psi
    width = (begin.high_pct - begin.low_pct) / 100.0
    row["band_frame"][:], row["band_print"][:] = width, width
    row["gap_width"][:] = (begin.rh_high - begin.rh_low) * room_ratio / ratio
    _held_since_mounting(row, at, draws, begin.held_h)
    row["overload"][:] = _overload_so_far(row, at, draws)
    for name in layout.PAST:
        row[name][:] = np.inf
    return out


def _overload_so_far(row: Mapping[str, Floats], at: Mapping[str, Floats], draws: Stacked) -> Floats:
    """Return the hinge load over short-term capacity: at mounting or now, whichever is more."""
    mounted, temp = _mounted_psi(draws), draws["mounted_temp_c"]
    psi = at["image_share"] * row["psi_image"] + (1.0 - at["image_share"]) * row["psi_core"]
    most = np.zeros_like(psi)
    for axis in ("md", "cd"):
        then = _imposed(at, axis, mounted, temp) * np.exp(-at["soften"] * (mounted - 0.5))
        now = row[f"above_{axis}"] * np.exp(-at["soften"] * (psi - 0.5))
        most = np.maximum(most, at[f"load_{axis}"] * np.maximum(then, now))
    return most


def _imposed(at: Mapping[str, Floats], axis: str, psi: Floats, temp_c: Floats) -> Floats:
    """Return the imposed strain of an axis with print and panel at psi, before any losses."""
    return np.asarray(
        at[f"start_{axis}"]
        - at[f"beta_{axis}"] * humidity_path(psi, at["outside"])
        + at[f"panel_{axis}"] * psi
        + at[f"alpha_{axis}"] * temp_c
    )


def _held_since_mounting(
    row: Mapping[str, Floats], at: Mapping[str, Floats], draws: Stacked, held_h: Floats
) -> None:
    """Set strains and internal strains as after a time at the strain of the first hour."""
    fit = prony()
    psi, temp = row["psi_core"], row["temp_c"]
    for axis in ("md", "cd"):
        imposed = _imposed(at, axis, psi, temp)
        gone = [1.0 - np.exp(-held_h * HOUR_S / tau) for tau in fit.times_s]
        lost = at["relax_m"] * sum(k * g for k, g in zip(fit.weights, gone, strict=True))
        gain, end_share = at[f"gain_{axis}"], 1.0 - 1.0 / at["zero_gain"]
        taken = at[f"mat_gain_{axis}"]
        f = taken * (1.0 - end_share) / (1.0 - taken * end_share)
        mat = np.maximum(imposed, 0.0) * f / (1.0 - (1.0 - f) * lost)
        reserve = mat * (1.0 - lost)
        days = held_h / 24.0 / draws["hinge_creep_days"]
        crept = np.maximum(reserve - at[f"sustain_{axis}"], 0.0) * -np.expm1(-days) / gain
        share = np.where(imposed > 0.0, 1.0 - crept / np.maximum(imposed, 1e-12), 1.0)
        row[f"creep_lost_{axis}"][:] = crept
        mat = mat * np.clip(share, 0.0, 1.0)
        for i, g in enumerate(gone):
            row[f"v_{axis}_{i}"][:] = mat * g
        row[f"mat_{axis}"][:] = mat
        row[f"above_{axis}"][:] = np.where(imposed > 0.0, (imposed - crept) - mat * lost, imposed)
