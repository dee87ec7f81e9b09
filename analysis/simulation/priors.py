"""The draws: every uncertain parameter of one work, two hundred times, the same every time."""

from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from threading import Lock

import numpy as np
from scipy.special import ndtri

from analysis.chain.enclosure import half_time_from_build_h
from analysis.chain.gap import gap_terms
from analysis.chain.tension import series_factor
from analysis.errors import UnknownNameError
from analysis.parameters import Parameter, parameter, table
from analysis.results import Floats
from analysis.simulation.drawer import Drawer, group_of, log_moments, release, spread, triangular
from analysis.simulation.drawn_parameters import BUILD_FACTS, UNITS
from analysis.simulation.refusals import require_possible
from analysis.works import ADHESIVE_ROWS, GLAZED, KINDS, Adhesive, Grain, Paper, Work

PASTS = 4  # of a room before its first reading; a draw lives through one of them
# Humidity of rooms in which prints are mounted and framed, where nobody recorded it (assumed).
ANYWHERE_PCT = (30.0, 50.0, 70.0)
# Kinds that decide which rows of the tables are drawn from.
DRAWN_KINDS = ("paper", "finish", "panel", "adhesive", "frame", "wall")


@dataclass(frozen=True)
class Draws:
    """The draws of one work's parameters.

    Parameters
    ----------
    work_id : str
        The work.
    release : str
        Digest of the numbers in the tables the draws were made from.
    values : mapping of str to ndarray, shape (n,)
        Keys and units in `UNITS`.
    """

    work_id: str
    release: str
    values: Mapping[str, Floats]

    def __getitem__(self, name: str) -> Floats:
        """Return one parameter's draws, shape (n,)."""
        if name not in self.values:
            raise UnknownNameError(read="draws", name=name, known=self.values)
        return self.values[name]

    @property
    def n(self) -> int:
        """Number of draws."""
        return len(self.values["beta_cd"])

    def replace(self, **values: Floats) -> "Draws":
        """Return the same draws with some parameters' arrays replaced."""
        return Draws(self.work_id, self.release, {**self.values, **values})

    def take(self, index: np.typing.NDArray[np.intp]) -> "Draws":
        """Return the draws at ``index``, all parameters together."""
        return Draws(self.work_id, self.release, {k: v[index] for k, v in self.values.items()})


# Draws of works asked for lately: one museum asks for the same ones room by room, hour by hour.
DRAWS_AT_HAND = 40_000  # about 20 MB
_DRAWN: OrderedDict[tuple[str, str, int, str], Draws] = OrderedDict()
_DRAWN_LOCK = Lock()

CONDITIONED = ("beta_md", "modulus_md_gpa", "beta_cd", "modulus_cd_gpa")


def _stiffness_and_expansion(drawer: Drawer) -> dict[str, Floats]:
    """Draw stiffness and expansion of both axes with their ratio of energies imposed.

    The four are drawn as independent normals of their logarithms, then conditioned (Matheron's
    update) on ln(E_md·beta_md / E_cd·beta_cd) ~ normal about the published ratio. A narrow measured
    range therefore hardly moves, a wide one moves most.
    """
    signs = dict(zip(CONDITIONED, (1.0, 1.0, -1.0, -1.0), strict=True))
    paper = group_of(drawer.work.paper)
    logs, variances = {}, {}
    for name in signs:
        row = drawer.stated(name, parameter("prints", paper, name))
        mean, sd = log_moments(row)
        logs[name] = mean + sd * ndtri(drawer.levels(name))
        variances[name] = sd * sd
    ratio = parameter("prints", "grain", "energy_ratio")
    mean, sd = log_moments(ratio)
    target = mean + sd * ndtri(drawer.levels("energy_ratio"))
    surprise = target - sum(sign * logs[name] for name, sign in signs.items())
    total = sum(variances.values()) + sd * sd
    return {
        name: np.exp(logs[name] + sign * variances[name] / total * surprise)
        for name, sign in signs.items()
    }


def _isotropic(drawer: Drawer) -> dict[str, Floats]:
    """Draw stiffness and expansion of polyester, the same along both axes."""
    beta, modulus = drawer.sheet("beta_cd"), drawer.sheet("modulus_cd_gpa")
    same = {"beta_md": beta, "beta_cd": beta, "modulus_md_gpa": modulus, "modulus_cd_gpa": modulus}
    stated = {name: drawer.sheet(name) for name in same if name in drawer.work.overrides}
    return {**same, **stated}


def unmodelled(drawer: Drawer) -> dict[str, Floats]:
    """Return the draws of what the chain may be off by: see `discrepancy`."""
    share = drawer.row("scanning_share", parameter("prints", "hysteresis", "scanning_share"))
    by_path = drawer.levels("path") < parameter("discrepancy", "path", "share").value
    season = parameter("discrepancy", "season", "rh_pct")
    names = ("season_cos_pct", "season_sin_pct")
    return {
        "path_share": np.where(by_path, share, 0.0),
        **{name: drawer.normal(name, season) for name in names},
    }


SHEET_NAMES = (
    "thickness_mm",
    "grammage_g_m2",
    "moisture_slope",
    "softening_per_pct",
    "core_half_time_h",
    "image_half_time_h",
    "image_share",
    "gelatin_share",
    "relax_per_decade",
    "mechano_sorptive_per_pct",
    "alpha_md",
    "alpha_cd",
    "shrinkage_md",
    "shrinkage_cd",
    "hysteresis_rh_pct",
)


def _sheet(drawer: Drawer) -> dict[str, Floats]:
    isotropic = drawer.work.paper is Paper.POLYESTER
    values = _isotropic(drawer) if isotropic else _stiffness_and_expansion(drawer)
    values |= {name: drawer.sheet(name) for name in SHEET_NAMES}
    share = drawer.row("scanning_share", parameter("prints", "hysteresis", "scanning_share"))
    branch = drawer.levels("branch") - 0.5
    values |= unmodelled(drawer)
    values["hysteresis_offset_rh_pct"] = values["hysteresis_rh_pct"] * share * branch
    outside = parameter("prints", "gelatin", "outside_factor")
    values["gelatin_outside_factor"] = drawer.row("gelatin_outside_factor", outside)
    values["poisson"] = drawer.row("poisson", parameter("prints", "sheet", "poisson"))
    share_vertical = parameter("prints", "grain", "vertical").value
    known = {Grain.VERTICAL: 1.0, Grain.HORIZONTAL: 0.0, Grain.UNKNOWN: share_vertical}
    vertical = known[drawer.work.grain]
    values["grain_vertical"] = (drawer.levels("grain") < vertical).astype(np.float64)
    return values


def _panel(drawer: Drawer) -> dict[str, Floats]:
    """Draw the panel. Its grain against the print's is not recorded: half the draws each way."""
    group = group_of(drawer.work.panel)
    rows = {name: parameter("panels", group, name) for name in table("panels")[group]}
    along = drawer.levels("panel grain") < 0.5
    values = {"panel_half_time_h": drawer.row("panel_half_time_h", rows["half_time_h"])}
    for kind in ("beta", "alpha"):
        md = spread(drawer.levels(f"panel_{kind}_md"), rows[f"{kind}_md"])
        cd = spread(drawer.levels(f"panel_{kind}_cd"), rows[f"{kind}_cd"])
        for axis, drawn in (("md", np.where(along, md, cd)), ("cd", np.where(along, cd, md))):
            values[f"panel_{kind}_along_{axis}"] = drawn
    return values


def _hinges(drawer: Drawer) -> dict[str, Floats]:
    work, hinge = drawer.work, table("hinges")
    tissue, week = hinge["tissue"], hinge["giving_way"]["strain_in_a_week"]
    values = {
        "hinge_stiffness_n_m": drawer.row("hinge_stiffness_n_m", tissue["stiffness_n_m"]),
        "hinge_free_length_mm": drawer.row("hinge_free_length_mm", tissue["free_length_mm"]),
        "hinge_coverage": np.minimum(drawer.row("hinge_coverage", tissue["coverage"]), 1.0),
        "hinge_week_strain": drawer.row("hinge_week_strain", week),
    }
    if work.hinge_free_length_mm is not None:
        values["hinge_free_length_mm"] = np.full(drawer.n, work.hinge_free_length_mm)
    if work.hinge_coverage is not None:
        values["hinge_coverage"] = np.full(drawer.n, work.hinge_coverage)
    return values | _adhesive(drawer)


def _adhesive(drawer: Drawer) -> dict[str, Floats]:
    """Draw what the bond bears at once and for weeks, and how fast it creeps above that."""
    rows = table("hinges")[ADHESIVE_ROWS[drawer.work.adhesive]]
    names = ("capacity_n_m", "sustained_n_m", "creep_days")
    drawn = {f"hinge_{name}": drawer.row(f"hinge_{name}", rows[name]) for name in names}
    drawn["hinge_creep_days"] = _slip_days(drawer, drawn["hinge_creep_days"])
    if "hinge_sustained_n_m" not in drawer.work.overrides:
        most = drawn["hinge_capacity_n_m"]
        drawn["hinge_sustained_n_m"] = np.minimum(drawn["hinge_sustained_n_m"], most)
    return drawn


def _slip_days(drawer: Drawer, creep_days: Floats) -> Floats:
    """Return creep times of which a share is so short that the bond slips at once.

    A stated time is taken as stated.
    """
    if "hinge_creep_days" in drawer.work.overrides:
        return creep_days
    slip = table("discrepancy")["slip"]
    sticky = drawer.work.adhesive is Adhesive.PRESSURE_SENSITIVE
    share = slip["share" if sticky else "pasted_share"].value
    at_once = drawer.levels("hinge_slip") < share
    return np.where(at_once, slip["days"].value, creep_days)


def _mounting(drawer: Drawer) -> dict[str, Floats]:
    """Draw the state at mounting; unknown humidity is its room's own, or anywhere rooms are."""
    work, hinge = drawer.work, table("hinges")["mounting"]
    error = drawer.row("mounted_rh_error_pct", hinge["rh_error_pct"])
    wide = triangular(drawer.levels("mounted_rh_pct"), *(work.year_before_rh_pct or ANYWHERE_PCT))
    rh = wide if work.mounted_rh_pct is None else work.mounted_rh_pct + error
    temp = 20.0 if work.mounted_temp_c is None else work.mounted_temp_c
    past = np.minimum(np.floor(PASTS * drawer.levels("past")), PASTS - 1.0)
    return {
        "mounted_rh_pct": np.clip(rh, 1.0, 99.0),
        "mounted_temp_c": np.full(drawer.n, temp),
        # the draws of one past were mounted at one time: the middle of their share of the range
        "mounted_years": spread((past + 0.5) / PASTS, hinge["age_years"]),
        "past": past,
    }


def _half_time(drawer: Drawer, rows: Mapping[str, Parameter]) -> Floats:
    """Draw the half-time: as fitted, else from board and back, else the build's default."""
    stated = drawer.work.overrides
    if "half_time_h" in stated or "board_mass_kg_m2" not in stated:
        return drawer.row("half_time_h", rows["half_time_h"])
    board = table("frames")["board"]
    mass = spread(drawer.levels("board_mass_kg_m2"), stated["board_mass_kg_m2"])
    permeance = drawer.row("back_permeance", board["permeance"])
    capacity = drawer.row("board_capacity", board["capacity"])
    return half_time_from_build_h(mass, capacity, permeance)


def _closing(drawer: Drawer) -> Floats:
    """Draw the humidity locked in at a closing that nobody recorded: as wide as at mounting."""
    return triangular(drawer.levels("closing_rh_pct"), *ANYWHERE_PCT)


def _frame(drawer: Drawer) -> dict[str, Floats]:
    work, frames = drawer.work, table("frames")
    rows = frames[f"build_{work.frame.value.lower()}"]
    shift = frames["glazed" if work.frame in GLAZED else "open"]["shift_per_k"]
    closing = work.closing_rh_pct
    error = drawer.row("closing_rh_error_pct", frames["closing"]["rh_error_pct"])
    return {
        "half_time_h": _half_time(drawer, rows),
        "thermal_time_h": drawer.row("thermal_time_h", rows["thermal_time_h"]),
        "shift_per_k": drawer.row("shift_per_k", shift),
        "closing_rh_pct": np.clip(
            _closing(drawer) if closing is None else closing + error, 1.0, 99.0
        ),
        "gap_fill": drawer.levels("gap_fill"),
        **{
            name: drawer.normal(name, frames["logger"][name])
            for name in ("frame_minus_logger_k", "logger_drift_pct_a")
        },
        "sensor_offset_pct": drawer.row("sensor_offset_pct", frames["sensor"]["offset_pct"]),
        "gap_mm": _gap(drawer),
    }


def _gap(drawer: Drawer) -> Floats:
    """Draw the depth in front of the print; NaN where the spacer is not recorded."""
    work, terms = drawer.work, gap_terms(drawer.work)
    spacer = np.nan if work.spacer_mm is None else work.spacer_mm
    gap = spacer + drawer.row("spacer_error_mm", terms.tolerance_mm)
    gap = gap - drawer.row("panel_bow_mm", terms.panel_bow_mm)
    if terms.glazing_bow_mm is not None:
        gap = gap - drawer.row("glazing_bow_mm", terms.glazing_bow_mm)
    return np.maximum(gap, 0.0)


def surface(drawer: Drawer) -> dict[str, Floats]:
    """Return the draws of what is seen of the surface, and of the wall behind."""
    finishes, walls = table("finishes"), table("walls")
    finish = finishes[group_of(drawer.work.finish)]["visible_slope_mrad"]
    return {
        "visible_slope_mrad": drawer.row("visible_slope_mrad", finish),
        "wavelength_m": drawer.row("wavelength_m", finishes["waves"]["wavelength_m"]),
        "wall_factor": drawer.row("wall_factor", wall_factor_row(drawer.work)),
        "outdoor_temp_c": drawer.row("outdoor_temp_c", walls["outdoors"]["temp_c"]),
    }


def wall_factor_row(work: Work) -> Parameter:
    """Return the row of how far a wall's cold reaches the print: glazing keeps the room off it."""
    return parameter(
        "walls", group_of(work.wall), "factor" if work.frame in GLAZED else "unglazed_factor"
    )


def draw(work: Work, n: int = 200) -> Draws:
    """Return n draws of every uncertain parameter of one work.

    Parameters
    ----------
    work : Work
        What is known; `Work.overrides` replaces the table's range of any name in `UNITS` (and of
        ``board_mass_kg_m2`` with ``back_permeance``, from which the half-time is worked out).
    n : int
        Number of draws.

    Returns
    -------
    Draws
        Arrays of shape (n,), the same for the same work, tables and n.

    Raises
    ------
    OutOfRangeError
        If a stated fact cannot be: a negative thickness, a half-time of 0, framed before mounted.
    UnknownNameError
        If an override names no parameter.

    Examples
    --------
    >>> from analysis.works import Finish, Paper
    >>> work = Work("W1", "Quay", 1500, 1000, Paper.FIBRE_BASE, Finish.GLOSSY)
    >>> 70e-6 < float(np.median(draw(work)["beta_cd"])) < 95e-6
    True
    """
    return drawn_lately("", work, n, lambda: drawn(Drawer(work, n)))


def drawn_lately(levels: str, work: Work, n: int, make: Callable[[], Draws]) -> Draws:
    """Return what ``make`` draws of a work, or what it drew lately at levels of the same name.

    Nobody writes to what is returned.
    """
    key = (levels, release(), n, repr(work))
    with _DRAWN_LOCK:
        found = _DRAWN.get(key)
        if found is not None:
            _DRAWN.move_to_end(key)
            return found
    found = make()
    for array in found.values.values():
        array.setflags(write=False)
    with _DRAWN_LOCK:
        _DRAWN[key] = found
        while sum(one.n for one in _DRAWN.values()) > DRAWS_AT_HAND and len(_DRAWN) > 1:
            _DRAWN.popitem(last=False)
    return found


def drawn(drawer: Drawer) -> Draws:
    """Return the draws at a drawer's levels, or raise as `draw` does.

    Where nobody knows a kind of the work, each draw has one of those that may be true, all alike.
    """
    unknown = [kind for kind in DRAWN_KINDS if kind in drawer.work.unknown]
    if not unknown:
        return _drawn(drawer)
    picks = np.stack([_picked(drawer, kind) for kind in unknown], axis=1)
    guesses, which = np.unique(picks, axis=0, return_inverse=True)
    found = [_drawn(_as_if(drawer, unknown, guess)) for guess in guesses]
    rows = which.ravel(), np.arange(drawer.n)
    values = {name: np.stack([one[name] for one in found])[rows] for name in found[0].values}
    return Draws(drawer.work.work_id, release(), values)


def _picked(drawer: Drawer, kind: str) -> np.typing.NDArray[np.intp]:
    """Return which of the kinds that may be true each draw has, shape (n,)."""
    many = len(KINDS[kind])
    return np.minimum((drawer.levels(f"which {kind}") * many).astype(np.intp), many - 1)


def _as_if(drawer: Drawer, unknown: Sequence[str], guess: np.typing.NDArray[np.intp]) -> Drawer:
    """Return a drawer of the same levels for the work as it is by a guess."""
    other = copy(drawer)
    known = {kind: KINDS[kind][at] for kind, at in zip(unknown, guess, strict=True)}
    other.work = replace(drawer.work, **known)
    return other


def _drawn(drawer: Drawer) -> Draws:
    """Return the draws of a work whose kinds are taken as they stand."""
    work, parts = drawer.work, (_sheet, _panel, _hinges, _mounting, _frame, surface)
    require_possible(work, known={**UNITS, **BUILD_FACTS})
    values = {name: array for part in parts for name, array in part(drawer).items()}
    for name in set(work.overrides) & set(UNITS) - set(CONDITIONED):
        values[name] = drawer.row(name, work.overrides[name])
    row = parameter("hinges", "mounting", "prestrain")
    values["prestrain"] = drawer.row_below("prestrain", row, _held_prestrain(work, values))
    return Draws(work.work_id, release(), {name: values[name] for name in UNITS})


def _held_prestrain(work: Work, values: Mapping[str, Floats]) -> Floats:
    """Return the stretch at mounting that the hinges can just hold: no print is mounted tauter."""
    free_m = values["hinge_free_length_mm"] / 1000.0
    coverage, stiffness = values["hinge_coverage"], values["hinge_stiffness_n_m"]
    most = np.full(len(coverage), np.inf)
    for length_m, ea in axes_of(work.width_mm, work.height_mm, values).values():
        taken = series_factor(length_m, ea, free_m, coverage, stiffness)
        most = np.minimum(most, values["hinge_capacity_n_m"] * coverage / (ea * taken))
    return most


def axes_of(
    width_mm: Floats | float, height_mm: Floats | float, values: Mapping[str, Floats]
) -> dict[str, tuple[Floats, Floats]]:
    """Return (length, EA) of the grain's axis and the one across it [m, N/m]."""
    width, height = np.asarray(width_mm) / 1000.0, np.asarray(height_mm) / 1000.0
    upright = values["grain_vertical"] > 0.5
    thickness_m = values["thickness_mm"] / 1000.0
    return {
        "md": (np.where(upright, height, width), values["modulus_md_gpa"] * 1e9 * thickness_m),
        "cd": (np.where(upright, width, height), values["modulus_cd_gpa"] * 1e9 * thickness_m),
    }
