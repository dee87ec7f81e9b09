"""Works that do not behave as the program believes: truths to try its ranges on.

One simulation carries many invented works at once from their mounting to the end of the record,
each by laws that may differ from the estimator's (`Law`). It shares the published isotherm and the
drawn parameters with the program, and no step of its loop.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from scipy.optimize import nnls
from scipy.signal import lfilter

from analysis.chain.cockle import buckling_strain
from analysis.chain.enclosure import LN2, saturation_pressure_pa, slope_at_half
from analysis.chain.isotherm import gab_of, heat_polynomial, shift_per_k, slope_parts
from analysis.chain.relaxation import prony
from analysis.chain.tension import series_factor
from analysis.parameters import parameter
from analysis.results import Floats
from analysis.simulation.packing import humidity_path, psi_from
from analysis.simulation.priors import Draws, axes_of
from analysis.works import Work

YEAR_H = 8766.0
MOST_PCT = 50.0


@dataclass(frozen=True)
class Law:
    """Where a truth departs from the program's model; each is 0 or 1.

    Parameters
    ----------
    two_rates : float
        Frame, panel and print each take up half of their moisture three times as fast and half
        three times as slowly as stated.
    path : float
        Expansion lags behind humidity along scanning curves that close exponentially.
    power : float
        Tension relaxes by a power law, and faster in damp.
    biaxial : float
        A taut axis adds Poisson's ratio of its reserve to the other.
    apart : float
        The frame is up to 1.2 K off its logger and the logger drifts up to 2.6 %RH a year.
    threshold : float
        Hinges slip at once above a threshold, not slowly above what they sustain.
    bent : float
        Expansion grows with humidity instead of running straight.
    sheet_creeps : float
        A tenth of the stretch that is not relaxed is lost for good in a year.
    """

    two_rates: float = 0.0
    path: float = 0.0
    power: float = 0.0
    biaxial: float = 0.0
    apart: float = 0.0
    threshold: float = 0.0
    bent: float = 0.0
    sheet_creeps: float = 0.0


LAWS: Mapping[str, Law] = {
    "own": Law(),
    "two rates": Law(two_rates=1.0),
    "path hysteresis": Law(path=1.0),
    "power law, quicker in damp": Law(power=1.0),
    "biaxial sheet": Law(biaxial=1.0),
    "frame off, logger drifts": Law(apart=1.0),
    "hinges slip by threshold": Law(threshold=1.0),
    "bent expansion": Law(bent=1.0),
    "sheet creeps": Law(sheet_creeps=1.0),
    "all together": Law(1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0),
}


@dataclass(frozen=True)
class LoggedAir:
    """What the loggers of some rooms show, hourly from the first mounting to the record's end.

    Arrays of shape (rooms, h). The record that the program is given begins at hour ``record``.
    """

    temp_c: Floats
    rh_pct: Floats
    record: int


@dataclass(frozen=True)
class Member:
    """One invented work: what it is, its true parameters, its room, its law."""

    work: Work
    true: Draws
    room: int
    law: Law


def hold(r: Floats) -> tuple[Floats, Floats]:
    """Return the exact weights of a linear input at a step's start and end, r = step / time."""
    mean = np.where(r > 1e-6, -np.expm1(-r) / np.maximum(r, 1e-12), 1.0 - r / 2.0)
    return mean - np.exp(-r), 1.0 - mean


def _power_weights() -> Floats:
    """Return unit weights, on the program's own times, of a power law equal to the log law's day.

    The share left is (1 + t/1 s)^-n with n = 0.022, which after a day is that of 0.07 a decade.
    """
    n, day = 0.022, 86400.0
    at = np.geomspace(1800.0, 30.0 * YEAR_H * 3600.0, 400)
    scale = np.log10(1.0 + day / 60.0) / (1.0 - (1.0 + day) ** -n)
    lost = scale * (1.0 - (1.0 + at) ** -n)
    weights, _ = nnls(1.0 - np.exp(-at[:, None] / prony().times_s[None, :]), lost)
    return np.asarray(weights)


class Truth:
    """Many works on their way, arrays of shape (m,); call `step` hour by hour."""

    def __init__(self, members: Sequence[Member], air: LoggedAir, seed: int) -> None:
        self.members, self.air = members, air
        self.room = np.array([one.room for one in members])
        names = members[0].true.values
        self.p = {k: np.array([float(one.true[k][0]) for one in members]) for k in names}
        laws = [one.law for one in members]
        self.law = {f.name: np.array([getattr(x, f.name) for x in laws]) for f in fields(Law)}
        rng = np.random.default_rng(seed)
        m = len(members)
        self.off_k = self.law["apart"] * rng.uniform(-1.2, 1.2, m)
        self.drift_a = self.law["apart"] * rng.uniform(-2.6, 2.6, m)
        self._sheet()
        self._hinges()
        self._begin()

    def _sheet(self) -> None:
        p = self.p
        self.scale = p["shift_per_k"] / shift_per_k()
        self.outside = 1.0 + p["gelatin_share"] * (p["gelatin_outside_factor"] - 1.0)
        own, power = prony().weights, _power_weights()
        by_power = self.law["power"][:, None]
        self.k = own * (1.0 - by_power) + power * by_power
        self.m = np.minimum(p["relax_per_decade"], 0.9 / self.k.sum(axis=1))
        width = np.array([one.work.width_mm for one in self.members]) / 1000.0
        height = np.array([one.work.height_mm for one in self.members]) / 1000.0
        flat = buckling_strain(p["thickness_mm"] / 1000.0, 1.0, 1.0, p["poisson"])
        self.buckle = flat * 0.5 * (1.0 / width**2 + 1.0 / height**2)
        self.axes = axes_of(1000.0 * width, 1000.0 * height, p)

    def _hinges(self) -> None:
        p = self.p
        free, coverage = p["hinge_free_length_mm"] / 1000.0, p["hinge_coverage"]
        stiff = p["hinge_stiffness_n_m"]
        axes = self.axes.items()
        self.f = {a: series_factor(s, ea, free, coverage, stiff) for a, (s, ea) in axes}
        self.sustain = {
            a: p["hinge_sustained_n_m"] * coverage / ea for a, (_, ea) in self.axes.items()
        }
        self.capacity = p["hinge_capacity_n_m"] * coverage

    def _begin(self) -> None:
        """Set the state at mounting: at rest with the humidity of that day."""
        p, m = self.p, len(self.members)
        psi = psi_from(p["mounted_rh_pct"], p["mounted_temp_c"], self.scale)
        self.psi0, self.temp0 = psi, p["mounted_temp_c"]
        stores = ("frame", "panel", "core", "image")
        self.psi = {name: np.stack([psi, psi]) for name in stores}
        self.drive = psi.copy()
        self.temp = p["mounted_temp_c"].copy()
        self.branch, self.play = np.zeros(m), psi.copy()
        self.peak, self.overload = psi.copy(), np.zeros(m)
        self.v = {a: np.zeros((6, m)) for a in self.axes}
        self.mat = {a: np.zeros(m) for a in self.axes}
        self.above = {a: np.zeros(m) for a in self.axes}
        self.zero = {a: np.zeros(m) for a in self.axes}
        self.lost = {a: np.zeros(m) for a in self.axes}
        self.slipped = {a: np.zeros(m) for a in self.axes}
        self.path0 = self._expanded(psi, np.zeros(m))

    def _expanded(self, psi: Floats, branch: Floats) -> Floats:
        """Return the humidity path that expansion follows."""
        share = parameter("prints", "hysteresis", "scanning_share").value
        lag = 0.5 * share * self.p["hysteresis_rh_pct"] / 100.0 * branch * self.law["path"]
        seen = psi - lag
        bent = self.law["bent"] * 1.2 * (seen - self.psi0) * np.abs(seen - 0.5)
        return np.asarray(humidity_path(seen, self.outside) + bent)

    def step(self, hour: int) -> None:
        """Take all works through an hour: air, frame, sheet, tension."""
        before = self._moist(hour)
        self._cycle(before)
        for axis in self.axes:
            self._axis(axis)
        self._slip()

    def _moist(self, hour: int) -> Floats:
        """Let frame, panel and print follow the room; return the print's humidity before."""
        p, air = self.p, self.air
        room_c = air.temp_c[self.room, hour]
        years = np.maximum(hour - air.record, 0) / YEAR_H
        rh = air.rh_pct[self.room, hour] / 100.0
        rh = np.clip(rh + (p["sensor_offset_pct"] + self.drift_a * years) / 100.0, 0.0, 1.0)
        outer = room_c + self.off_k + p["wall_factor"] * (p["outdoor_temp_c"] - room_c)
        self.temp = self.temp + (outer - self.temp) * -np.expm1(-1.0 / p["thermal_time_h"])
        at_20 = saturation_pressure_pa(20.0)
        ratio = saturation_pressure_pa(self.temp) / at_20
        frame = self._of("frame")
        shift = np.exp(self._heat(frame))
        drive = np.clip(rh * saturation_pressure_pa(room_c) / at_20 / (ratio * shift), 0.01, 0.98)
        board = gab_of("frame_board")
        above, below = slope_parts(frame, board.c, board.k)  # type: ignore[arg-type]
        slope = slope_at_half() * above / below
        speed = ratio * shift * slope
        seen = self._print()
        self._follow("frame", self.drive, drive, p["half_time_h"], speed)
        old, new = frame, self._of("frame")
        self.drive = drive
        for name, row in (("panel", "panel"), ("core", "core"), ("image", "image")):
            self._follow(name, old, new, p[f"{row}_half_time_h"], speed)
        self.shift = np.exp(self._heat(self._of("frame")))
        return seen

    def _heat(self, psi: Floats) -> Floats:
        term = self.scale * (1.0 / 293.15 - 1.0 / (273.15 + self.temp))
        return np.asarray(term * np.polynomial.Polynomial(heat_polynomial())(psi))

    def _of(self, name: str) -> Floats:
        """Return a store's humidity: the mean of its quick and its slow half."""
        return np.asarray(self.psi[name].mean(axis=0))

    def _print(self) -> Floats:
        share = self.p["image_share"]
        return np.asarray(share * self._of("image") + (1.0 - share) * self._of("core"))

    def _follow(self, name: str, old: Floats, new: Floats, half_h: Floats, speed: Floats) -> None:
        """Let both halves of a store follow what is around it."""
        apart = 1.0 + 2.0 * self.law["two_rates"]
        for half, factor in ((0, apart), (1, 1.0 / apart)):
            begin, end = hold(LN2 / half_h * speed * factor)
            psi = self.psi[name][half]
            self.psi[name][half] = psi + begin * (old - psi) + end * (new - psi)

    def _cycle(self, before: Floats) -> None:
        """Follow what moisture does to the sheet on its way: branch, play, losses, shrinkage."""
        p, psi = self.p, self._print()
        moved = psi - before
        scan = p["hysteresis_rh_pct"] / 200.0
        # exact for a straight move: the branch nears +1 on the way up, -1 on the way down
        self.branch = np.sign(moved) + (self.branch - np.sign(moved)) * np.exp(-abs(moved) / scan)
        played = np.clip(self.play, psi - scan, psi + scan)
        extra = 100.0 * p["mechano_sorptive_per_pct"] * p["moisture_slope"]
        gone = -np.expm1(-extra * abs(played - self.play))
        self.play = played
        for axis in self.axes:
            self.lost[axis] += gone * np.maximum(self.above[axis], 0.0)
            yearly = self.law["sheet_creeps"] * 0.1 / YEAR_H
            self.lost[axis] += yearly * np.maximum(self.above[axis], 0.0)
        self.peak = np.maximum(self.peak, psi)
        self.soft = np.exp(-100.0 * p["softening_per_pct"] * p["moisture_slope"] * (psi - 0.5))

    def _imposed(self, axis: str, rise: Floats | float = 0.0) -> Floats:
        """Return the imposed strain, now or after a slow rise of humidity [psi] from now."""
        p = self.p
        low = parameter("prints", "humidity", "release_from").value / 100.0
        high = parameter("prints", "humidity", "release_to").value / 100.0
        released = np.clip((self.peak - low) / (high - low), 0.0, 1.0)
        scan, way = p["hysteresis_rh_pct"] / 200.0, np.sign(rise)
        branch = np.where(
            way == 0.0, self.branch, way + (self.branch - way) * np.exp(-np.abs(rise) / scan)
        )
        path = self._expanded(self._print() + rise, branch)
        warm = p[f"panel_alpha_along_{axis}"] - p[f"alpha_{axis}"]
        constant = p[f"beta_{axis}"] * p["hysteresis_offset_rh_pct"] * (1.0 - self.law["path"])
        return np.asarray(
            p["prestrain"]
            - 100.0 * p[f"beta_{axis}"] * (path - self.path0)
            + 100.0 * p[f"panel_beta_along_{axis}"] * (self._of("panel") + rise - self.psi0)
            + warm * (self.temp - self.temp0)
            + p[f"shrinkage_{axis}"] * released
            + constant
            - self.lost[axis]
            - self.slipped[axis]
        )

    def _axis(self, axis: str) -> None:
        """Relax one axis through the hour, quicker in damp where the law says so."""
        quick = np.exp(self.law["power"] * 6.0 * (self._print() - 0.5))
        r = 3600.0 * quick / prony().times_s[:, None]
        begin, end = hold(r)
        v, k = self.v[axis], self.k.T
        moved = v * np.exp(-r) + begin * self.mat[axis]
        share = self.m * (k * end).sum(axis=0)
        zero = self.m * (k * moved).sum(axis=0) / (1.0 - share)
        imposed, f = self._imposed(axis), self.f[axis]
        gain = f / (1.0 - (1.0 - f) * share)
        self.mat[axis] = zero + gain * np.maximum(imposed - zero, 0.0)
        self.v[axis] = moved + end * self.mat[axis]
        # what humidity must move from now on: the hour's own relaxation is over
        self.zero[axis] = self.m * (k * self.v[axis]).sum(axis=0)
        self.above[axis] = imposed - self.zero[axis]

    def coupled(self) -> dict[str, Floats]:
        """Return the strain above that of zero tension, with the other axis's share in it."""
        return self._coupled(self.above)

    def _coupled(self, above: Mapping[str, Floats]) -> dict[str, Floats]:
        taut = {a: np.maximum(x, 0.0) for a, x in above.items()}
        nu = 0.3 * self.law["biaxial"]
        return {a: above[a] + nu * taut["cd" if a == "md" else "md"] for a in above}

    def _rise_to_slack(self, axis: str) -> Floats:
        """Return how far humidity must rise until an axis just is slack, < 0: it is now [%RH].

        Found by halving, through the law's own expansion, path and coupling; what relaxes, creeps
        or slips meanwhile is left out, as it is in what the program says.
        """
        return self._halved(-MOST_PCT, lambda rise: self._after(axis, rise) > 0.0)

    def _fall_to_sustained(self, axis: str) -> Floats:
        """Return how far humidity may fall until hinges bear what they sustain, 0 or more [%RH].

        Found as the rise to slack is; what dries is stiffer, too.
        """
        stiffer = 100.0 * self.p["softening_per_pct"] * self.p["moisture_slope"]

        def held(fall: Floats) -> np.typing.NDArray[np.bool_]:
            soft = self.soft * np.exp(stiffer * fall)
            load = self.f[axis] * np.maximum(self._after(axis, -fall), 0.0) * soft
            return np.asarray(load < self.sustain[axis])

        return self._halved(0.0, held)

    def _after(self, axis: str, rise: Floats) -> Floats:
        """Return the strain above that of zero tension after a slow rise of humidity [psi]."""
        return self._coupled({a: self._imposed(a, rise) - self.zero[a] for a in self.axes})[axis]

    def _halved(
        self, least_pct: float, still: Callable[[Floats], np.typing.NDArray[np.bool_]]
    ) -> Floats:
        """Return up to which change of humidity something still holds, by halving [%RH]."""
        low = np.full(len(self.members), least_pct)
        high = np.full(len(self.members), MOST_PCT)
        for _ in range(20):
            middle = 0.5 * (low + high)
            holds = still(middle / 100.0)
            low, high = np.where(holds, middle, low), np.where(holds, high, middle)
        return np.asarray(0.5 * (low + high))

    def loads(self) -> dict[str, Floats]:
        """Return the tension of each axis [N/m]."""
        return {
            a: self.axes[a][1] * self.f[a] * np.maximum(x, 0.0) * self.soft
            for a, x in self.coupled().items()
        }

    def _slip(self) -> None:
        """Let hinges give way: slowly above what they sustain, or at once above a threshold."""
        loads = self.loads()
        self.overload = np.maximum(
            self.overload, np.maximum(loads["md"], loads["cd"]) / self.capacity
        )
        slow = -np.expm1(-1.0 / (24.0 * self.p["hinge_creep_days"]))
        at_once = self.law["threshold"]
        for axis, (_, ea) in self.axes.items():
            reserve = loads[axis] / ea
            over = np.maximum(reserve - self.sustain[axis] * (1.0 + 0.5 * at_once), 0.0)
            share = np.where(at_once > 0.0, 1.0, slow)
            self.slipped[axis] += share * over / self.f[axis]

    def shown(self) -> dict[str, Floats]:
        """Return what is true now, by the names of the program's probes and a few more."""
        p, above = self.p, self.coupled()
        slack = np.maximum(np.maximum(-above["md"], -above["cd"]) - self.buckle, 0.0)
        loads = self.loads()
        up, down = np.full(len(slack), MOST_PCT), np.full(len(slack), MOST_PCT)
        for axis in self.axes:
            apart = p[f"beta_{axis}"] - p[f"panel_beta_along_{axis}"]
            steep = apart > 1e-6
            free = np.where(above[axis] < 0.0, 0.0, MOST_PCT)
            up = np.minimum(up, np.where(steep, self._rise_to_slack(axis), free))
            down = np.where(steep, np.minimum(down, self._fall_to_sustained(axis)), down)
        return {
            "headroom_up_pct": np.clip(up, -MOST_PCT, MOST_PCT),
            "headroom_down_pct": np.clip(down, 0.0, MOST_PCT),
            "print_rh_pct": 100.0 * self._print() * self.shift,
            "slope_mrad": 2000.0 * np.sqrt(slack),
            "tension_n_m": np.minimum(loads["md"], loads["cd"]),
            "load_n_m": np.maximum(loads["md"], loads["cd"]),
            "wave_mm": 2000.0 * p["wavelength_m"] * np.sqrt(slack) / np.pi,
            "overload": self.overload.copy(),
        }


def lived(
    members: Sequence[Member],
    air: LoggedAir,
    mounted: int,
    asked: Sequence[int],
    seed: int = 17,
) -> dict[str, Floats]:
    """Return what is true of each member at hours of the air, arrays of shape (hours, m).

    All are mounted at hour ``mounted``.
    """
    truth, wanted = Truth(members, air, seed), set(asked)
    found: dict[int, dict[str, Floats]] = {}
    for hour in range(mounted, max(asked) + 1):
        truth.step(hour)
        if hour in wanted:
            found[hour] = truth.shown()
    return {k: np.stack([found[h][k] for h in asked]) for k in found[asked[0]]}


def rooms_through_years(
    count: int, past_years: float, seed: int = 5, record_days: int = 366
) -> LoggedAir:
    """Return what loggers would show in invented rooms: seasons, years that differ, weather.

    Season: amplitude 3 to 11 %RH, its height and mean differing from year to year by 15 % and by
    2 %RH (standard deviations), passing smoothly from one year to the next; weather of days of 2 to
    5 %RH; nights; temperature with a season and nights of its own.
    """
    rng = np.random.default_rng(seed)
    past = round(past_years * YEAR_H)
    hours = past + record_days * 24
    t = np.arange(hours) - past
    nodes = np.arange(int(np.floor(t[0] / YEAR_H)) - 1, int(t[-1] / YEAR_H) + 3) * YEAR_H
    temp, rh = np.empty((count, hours)), np.empty((count, hours))
    for i in range(count):
        factor = np.interp(t, nodes, np.exp(rng.normal(0.0, 0.15, len(nodes))))
        offset = np.interp(t, nodes, rng.normal(0.0, 2.0, len(nodes)))
        season = np.cos(2.0 * np.pi * (t / YEAR_H - 0.58 - rng.normal(0.0, 0.05)))
        amplitude, mean = rng.uniform(3.0, 11.0), rng.uniform(43.0, 52.0)
        day = np.cos(2.0 * np.pi * (t % 24 - 15.0) / 24.0)
        weather = _weather(rng, hours, rng.uniform(2.0, 5.0))
        rh[i] = mean + offset + amplitude * factor * season + weather + rng.uniform(0, 2) * day
        temp[i] = 20.5 + 1.5 * season + 0.5 * day + _weather(rng, hours, 0.5)
    return LoggedAir(temp, np.clip(rh, 10.0, 90.0), past)


def _weather(rng: np.random.Generator, hours: int, sd: float) -> Floats:
    """Return noise that forgets itself in four days, of a standard deviation."""
    keep = np.exp(-1.0 / 96.0)
    noise = rng.normal(0.0, sd * np.sqrt(1.0 - keep * keep), hours)
    return np.asarray(lfilter([1.0], [1.0, -keep], noise))
