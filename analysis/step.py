"""The whole chain for works × draws × hours: the only copy of the loop.

Each link is a plain function of one draw in `enclosure`, `sheet`, `tension`, `cockle`; here they
are strung together over draws that lie side by side in memory, and over hours.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt
from numba import prange

from analysis import layout, rows
from analysis.cockle import largest_slope_mrad, wave_height_m
from analysis.compiled import compiled_parallel, part, sources_digest, written_out
from analysis.enclosure import hold_weights_and_bump, hold_weights_fast, pressure_ratio, within
from analysis.headroom import headroom_down, headroom_up
from analysis.isotherm import polynomial_5, slope_parts, slope_ratio, small_exp, temperature_term
from analysis.ranges import weighted_ranges
from analysis.results import Floats
from analysis.sheet import humidity_path
from analysis.tension import bled_off, moved_play, relaxed
from analysis.weeks import GIVING, NEAR, SEEN, Signs, hours_since, is_told, week_shares

BLOCK = layout.BLOCK
N_FIXED, N_CARRIED, N_ROWS = len(layout.FIXED), len(layout.CARRIED), len(layout.ROWS)
N_SUMS, N_DETAIL = len(layout.SUMS), len(layout.DETAIL)
OF_WEEK = N_SUMS - len(layout.PAST)

RESTART_WIDTH = 0.15
# All files whose functions the loop contains.
SOURCES = (
    "compiled",
    "layout",
    "rows",
    "step",
    "enclosure",
    "isotherm",
    "sheet",
    "tension",
    "cockle",
    "headroom",
    "ranges",
    "weeks",
)


@part
def six(k: Floats, at: int) -> tuple[float, float, float, float, float, float]:
    """Return six numbers that stand one after another."""
    return k[at], k[at + 1], k[at + 2], k[at + 3], k[at + 4], k[at + 5]


@part
def temperature_link(b: Floats, n: int, k: Floats, room_c: float, outdoor_c: float) -> None:
    """Thermal lag behind glazing and wall: outer_c, temp_c, ratio."""
    a, c = k[rows.MAGNUS_A], k[rows.MAGNUS_B]
    known = outdoor_c == outdoor_c
    for j in range(n):
        outside = outdoor_c if known else b[rows.OUTDOOR + j]
        outer = room_c + b[rows.WALL + j] * (outside - room_c)
        before = b[rows.TEMP_C + j]
        old, new = b[rows.OUTER_C + j] - before, outer - before
        half = b[rows.HEAT_BEGIN_HALF + j] * old + b[rows.HEAT_END_HALF + j] * 0.5 * (old + new)
        temp = before + b[rows.HEAT_BEGIN + j] * old + b[rows.HEAT_END + j] * new
        b[rows.OUTER_C + j] = outer
        b[rows.TEMP_C + j] = temp
        b[rows.RATIO_BEFORE + j] = b[rows.RATIO + j]
        b[rows.RATIO_MIDDLE + j] = pressure_ratio(before + half, a, c)
        b[rows.RATIO + j] = pressure_ratio(temp, a, c)


@part
def frame_link(b: Floats, n: int, k: Floats, low: float, high: float, room_ratio: float) -> None:
    """Moisture in the frame: predicted with old coefficients, corrected with middle ones."""
    c, kk, half = k[rows.GAB_C], k[rows.GAB_K], k[rows.HALF_SLOPE]
    h0, h1, h2, h3, h4, h5 = six(k, rows.NET_HEAT)
    for j in range(n):
        psi, drive, before = b[rows.PSI_FRAME + j], b[rows.DRIVE + j], b[rows.SHIFT + j]
        ratio, middle_ratio = b[rows.RATIO + j], b[rows.RATIO_MIDDLE + j]
        level = low + b[rows.GAP_FILL + j] * (high - low) + b[rows.RH_OFFSET + j]
        pressure = min(max(level, 0.0), 1.0) * room_ratio
        # predicted, with the shift of the hour before
        above, below = slope_parts(psi, c, kk)
        speed = b[rows.FRAME_RATE + j] * middle_ratio * before * half * above
        held = ratio * before
        guess = within((psi * below * held + speed * pressure) / ((below + speed) * held))
        # corrected
        term = b[rows.HEAT_SCALE + j] * temperature_term(b[rows.TEMP_C + j])
        shift = small_exp(term * polynomial_5(guess, h0, h1, h2, h3, h4, h5))
        heat = middle_ratio * 0.5 * (before + shift)
        inverse = 1.0 / (ratio * shift * heat)
        new_drive = within(pressure * heat * inverse)
        middle = (
            0.5 * (drive * before * b[rows.RATIO_BEFORE + j] + pressure) * ratio * shift * inverse
        )
        faster = heat * slope_ratio(0.5 * (psi + guess), c, kk, half)
        begin, end, bump = hold_weights_and_bump(b[rows.FRAME_RATE + j] * faster)
        bent = middle - 0.5 * (drive + new_drive)
        moved = begin * (drive - psi) + end * (new_drive - psi) + bump * bent
        b[rows.PSI_BEFORE + j] = psi
        b[rows.PSI_FRAME + j] = within(psi + moved)
        b[rows.DRIVE + j], b[rows.SHIFT + j], b[rows.RATE + j] = new_drive, shift, faster
        # width between the low and the high copy, carried by the same weights
        wet = 1.0 if pressure >= ratio else 0.0
        width, old = b[rows.BAND_FRAME + j], b[rows.GAP_WIDTH + j]
        new_width = (high - low) * room_ratio * heat * shift * inverse
        grown = width + begin * (old - width) + end * (new_width - width)
        b[rows.BAND_FRAME + j] = max(grown, wet * RESTART_WIDTH)
        b[rows.GAP_WIDTH + j], b[rows.CONDENSING + j], b[rows.HEAT + j] = new_width, wet, heat


@written_out
def follow(b: Floats, n: int, psi_row: int, rate_row: int) -> None:
    """Let a store of moisture follow the frame at its own pace.

    How fast, against 20 °C and 50 %RH, is taken from the frame's board.
    """
    for j in range(n):
        psi, before, after = b[psi_row + j], b[rows.PSI_BEFORE + j], b[rows.PSI_FRAME + j]
        begin, end = hold_weights_fast(b[rate_row + j] * b[rows.RATE + j])
        b[psi_row + j] = psi + begin * (before - psi) + end * (after - psi)


@part
def stages_link(b: Floats, n: int, k: Floats, layered: bool) -> None:
    """Panel, image layer and body of the print, each following the frame."""
    c, kk, half = k[rows.GAB_C], k[rows.GAB_K], k[rows.HALF_SLOPE]
    follow(b, n, rows.PSI_PANEL, rows.PANEL_RATE)
    if layered:
        follow(b, n, rows.PSI_IMAGE, rows.IMAGE_RATE)
    for j in range(n):
        psi, before, after = b[rows.PSI_CORE + j], b[rows.PSI_BEFORE + j], b[rows.PSI_FRAME + j]
        speed = b[rows.HEAT + j] * slope_ratio(0.5 * (psi + after), c, kk, half)
        begin, end = hold_weights_fast(b[rows.CORE_RATE + j] * speed)
        b[rows.PSI_CORE + j] = psi + begin * (before - psi) + end * (after - psi)
        width = b[rows.BAND_PRINT + j]
        b[rows.BAND_PRINT + j] = width + (begin + end) * (b[rows.BAND_FRAME + j] - width)


@part
def strain_link(b: Floats, n: int, k: Floats) -> None:
    """Imposed strain of both axes, less what moisture cycles and creeping hinges took for good."""
    linear_from, linear_to = k[rows.LINEAR_FROM], k[rows.LINEAR_TO]
    release_from, release_per, week = k[rows.RELEASE_FROM], k[rows.RELEASE_PER], k[rows.WEEK_DECAY]
    for j in range(n):
        share = b[rows.IMAGE_SHARE + j]
        psi = share * b[rows.PSI_IMAGE + j] + (1.0 - share) * b[rows.PSI_CORE + j]
        peak = max(b[rows.PEAK + j], psi)
        b[rows.PEAK + j] = peak
        released = min(max((peak - release_from) * release_per, 0.0), 1.0)
        path = humidity_path(psi, linear_from, linear_to, b[rows.OUTSIDE + j])
        soft = small_exp(-b[rows.SOFTEN + j] * (psi - 0.5))
        b[rows.SOFT + j] = soft
        moved = moved_play(b[rows.PLAY + j], psi, b[rows.DEADBAND + j])
        cycled = 1.0 - small_exp(-b[rows.SORPTIVE + j] * abs(moved - b[rows.PLAY + j]))
        b[rows.PLAY + j] = moved
        panel, temp = b[rows.PSI_PANEL + j], b[rows.TEMP_C + j]
        above_md = max(b[rows.ABOVE_MD + j], 0.0)
        above_cd = max(b[rows.ABOVE_CD + j], 0.0)
        b[rows.LOSS_MD + j] += cycled * above_md
        b[rows.LOSS_CD + j] += cycled * above_cd
        crept_md = bled_off(
            b[rows.GAIN_MD + j] * above_md * soft, b[rows.SUSTAIN_MD + j], b[rows.CREEP_MD + j]
        )
        crept_cd = bled_off(
            b[rows.GAIN_CD + j] * above_cd * soft, b[rows.SUSTAIN_CD + j], b[rows.CREEP_CD + j]
        )
        b[rows.CREEP_LOST_MD + j] += crept_md
        b[rows.CREEP_LOST_CD + j] += crept_cd
        b[rows.WEEK_LOST + j] = b[rows.WEEK_LOST + j] * week + max(crept_md, crept_cd)
        b[rows.IMPOSED_MD + j] = (
            b[rows.START_MD + j]
            - b[rows.BETA_MD + j] * path
            + b[rows.PANEL_MD + j] * panel
            + b[rows.ALPHA_MD + j] * temp
            + b[rows.SHRINK_MD + j] * released
            - b[rows.LOSS_MD + j]
            - b[rows.CREEP_LOST_MD + j]
        )
        b[rows.IMPOSED_CD + j] = (
            b[rows.START_CD + j]
            - b[rows.BETA_CD + j] * path
            + b[rows.PANEL_CD + j] * panel
            + b[rows.ALPHA_CD + j] * temp
            + b[rows.SHRINK_CD + j] * released
            - b[rows.LOSS_CD + j]
            - b[rows.CREEP_LOST_CD + j]
        )


@written_out
def relax_axis(
    b: Floats, n: int, k: Floats, v_row: int, mat_row: int, above_row: int, others: tuple[int, int]
) -> None:
    """Relaxation of one axis; ``others`` are its imposed strain and its gain."""
    imposed_row, gain_row = others
    weights, decay = six(k, rows.PRONY_K), six(k, rows.PRONY_DECAY)
    first, last = six(k, rows.PRONY_BEGIN), six(k, rows.PRONY_END)
    for j in range(n):
        above, mat, v = relaxed(
            b[imposed_row + j],
            b[mat_row + j],
            b[rows.RELAX_M + j],
            b[rows.ZERO_GAIN + j],
            b[gain_row + j],
            (
                b[v_row + j],
                b[v_row + BLOCK + j],
                b[v_row + 2 * BLOCK + j],
                b[v_row + 3 * BLOCK + j],
                b[v_row + 4 * BLOCK + j],
                b[v_row + 5 * BLOCK + j],
            ),
            weights,
            decay,
            first,
            last,
        )
        b[above_row + j], b[mat_row + j] = above, mat
        b[v_row + j], b[v_row + BLOCK + j], b[v_row + 2 * BLOCK + j] = v[0], v[1], v[2]
        b[v_row + 3 * BLOCK + j], b[v_row + 4 * BLOCK + j] = v[3], v[4]
        b[v_row + 5 * BLOCK + j] = v[5]


@part
def tension_link(b: Floats, n: int, k: Floats) -> None:
    """Relaxation of both axes."""
    relax_axis(b, n, k, rows.V_MD, rows.MAT_MD, rows.ABOVE_MD, (rows.IMPOSED_MD, rows.MAT_GAIN_MD))
    relax_axis(b, n, k, rows.V_CD, rows.MAT_CD, rows.ABOVE_CD, (rows.IMPOSED_CD, rows.MAT_GAIN_CD))


@part
def surface_link(b: Floats, n: int, sums: Floats, signs: Signs, at: int) -> None:
    """Add this block's weights of draws that are slack, seen, near the glazing, giving way.

    ``signs`` has the same draw by draw, this block's from ``at``.
    """
    slack_p, visible_p, contact_p, hinges_p = 0.0, 0.0, 0.0, 0.0
    band, above_85, wet, temperature = 0.0, 0.0, 0.0, 0.0
    for j in range(n):
        weight, soft = b[rows.WEIGHT + j], b[rows.SOFT + j]
        slack = max(-b[rows.ABOVE_MD + j], -b[rows.ABOVE_CD + j]) - b[rows.BUCKLE + j]
        slack_p += weight if slack > 0.0 else 0.0
        seen = slack > b[rows.SLACK_VISIBLE + j]
        near = slack > b[rows.SLACK_CONTACT + j]
        load_md = b[rows.LOAD_MD + j] * b[rows.ABOVE_MD + j]
        load_cd = b[rows.LOAD_CD + j] * b[rows.ABOVE_CD + j]
        load = max(load_md, load_cd) * soft
        b[rows.OVERLOAD + j] = max(b[rows.OVERLOAD + j], load)
        giving = max(load - 1.0, b[rows.WEEK_LOST + j] - b[rows.WEEK_LIMIT + j]) > 0.0
        visible_p += weight if seen else 0.0
        contact_p += weight if near else 0.0
        hinges_p += weight if giving else 0.0
        signs[at + j] = (SEEN if seen else 0) | (NEAR if near else 0) | (GIVING if giving else 0)
        band += weight * b[rows.BAND_PRINT + j]
        above_85 += weight if b[rows.PSI_CORE + j] * b[rows.SHIFT + j] > 0.85 else 0.0
        wet += weight * b[rows.CONDENSING + j]
        temp = b[rows.TEMP_C + j]
        temperature += weight if abs(temp - 20.0) > 20.0 else 0.0
    sums[0] += slack_p
    sums[1] += visible_p
    sums[2] += contact_p
    sums[3] += hinges_p
    sums[4] += band
    sums[5] += above_85
    sums[6] += wet
    sums[7] += temperature


@part
def week_link(signs: Signs, weight: Floats, past: Floats, k: Floats, sums: Floats) -> None:
    """Carry how long ago each draw was seen, near the glazing, giving way; the week's weights."""
    for h in range(signs.shape[0]):
        hours_since(past, signs[h], is_told(sums[h], k[rows.WIDEST_PCT], k[rows.MOST]))
        week_shares(past, weight, sums[h, OF_WEEK:])


@part
def detail_link(b: Floats, n: int, out: npt.NDArray[np.float32], at: int) -> None:
    """Write what the ranges are taken from: one row a quantity, this block's draws from ``at``."""
    for j in range(n):
        shift, soft = b[rows.SHIFT + j], b[rows.SOFT + j]
        share = b[rows.IMAGE_SHARE + j]
        psi = share * b[rows.PSI_IMAGE + j] + (1.0 - share) * b[rows.PSI_CORE + j]
        md, cd = b[rows.ABOVE_MD + j], b[rows.ABOVE_CD + j]
        per_md, per_cd = b[rows.PER_RH_MD + j], b[rows.PER_RH_CD + j]
        slack = max(max(-md, -cd) - b[rows.BUCKLE + j], 0.0)
        load_md = b[rows.EA_MD + j] * b[rows.GAIN_MD + j] * max(md, 0.0)
        load_cd = b[rows.EA_CD + j] * b[rows.GAIN_CD + j] * max(cd, 0.0)
        left_md = b[rows.SUSTAIN_MD + j] / (b[rows.GAIN_MD + j] * soft) - md
        left_cd = b[rows.SUSTAIN_CD + j] / (b[rows.GAIN_CD + j] * soft) - cd
        out[0, at + j] = 100.0 * b[rows.PSI_FRAME + j] * shift
        out[1, at + j] = 100.0 * psi * shift
        out[2, at + j] = min(load_md, load_cd) * soft
        out[3, at + j] = largest_slope_mrad(slack)
        out[4, at + j] = 1000.0 * wave_height_m(slack, b[rows.WAVELENGTH + j])
        out[5, at + j] = headroom_up(md, cd, per_md, per_cd)
        out[6, at + j] = headroom_down(left_md, left_cd, per_md, per_cd)


@part
def work_through(
    hours: Floats,
    fixed: Floats,
    state: Floats,
    k: Floats,
    sums: Floats,
    detail: npt.NDArray[np.float32],
) -> None:
    """Carry one work through the hours: shapes (h, 5), (FIXED, n), (STATE, n), (h, SUMS)."""
    n, length = fixed.shape[1], hours.shape[0]
    wanted = detail.shape[0] > 0
    signs = np.empty((length, n), dtype=np.uint8)
    values = np.empty((length if wanted else 0, N_DETAIL, n), dtype=np.float32)
    weight = fixed[N_FIXED - 1].astype(np.float32)
    b = np.empty(N_ROWS * BLOCK)
    layered = np.max(fixed[rows.IMAGE_SHARE // BLOCK]) > 0.0
    for start in range(0, n, BLOCK):
        size = min(BLOCK, n - start)
        for row in range(N_FIXED):
            b[row * BLOCK : row * BLOCK + size] = fixed[row, start : start + size]
        for row in range(N_CARRIED):
            at = (N_FIXED + row) * BLOCK
            b[at : at + size] = state[row, start : start + size]
        for h in range(length):
            temperature_link(b, size, k, hours[h, 0], hours[h, 1])
            frame_link(b, size, k, hours[h, 2], hours[h, 3], hours[h, 4])
            stages_link(b, size, k, layered)
            strain_link(b, size, k)
            tension_link(b, size, k)
            surface_link(b, size, sums[h], signs[h], start)
            if wanted:
                detail_link(b, size, values[h], start)
        for row in range(N_CARRIED):
            at = (N_FIXED + row) * BLOCK
            state[row, start : start + size] = b[at : at + size]
    week_link(signs, fixed[N_FIXED - 1], state[N_CARRIED:], k, sums)
    for h in range(values.shape[0]):
        for q in range(N_DETAIL):
            weighted_ranges(values[h, q], weight, detail[h, q])


@cache
def _loop() -> Callable[..., int]:
    """Return the compiled loop over works, tied to the sources of all it contains."""
    sources = sources_digest(SOURCES)

    @compiled_parallel
    def loop(
        hours: Floats,
        fixed: Floats,
        state: Floats,
        active: npt.NDArray[np.bool_],
        k: Floats,
        sums: Floats,
        detail: npt.NDArray[np.float32],
    ) -> int:
        for w in prange(fixed.shape[0]):
            if active[w]:
                work_through(hours, fixed[w], state[w], k, sums[w], detail[w])
        return sources

    return loop


def all_works(
    hours: Floats,
    fixed: Floats,
    state: Floats,
    active: npt.NDArray[np.bool_],
    k: Floats,
    sums: Floats,
    detail: npt.NDArray[np.float32],
) -> None:
    """Carry all active works through the hours, sharing them out to the cores.

    Parameters
    ----------
    hours : ndarray, shape (h, 5)
        Room and outdoor temperature [°C], low and high humidity [0-1], pressure over that at 20 °C.
    fixed : ndarray, shape (works, len(layout.FIXED), n)
    state : ndarray, shape (works, len(layout.STATE), n)
        Changed to the state at the last hour.
    active : ndarray of bool, shape (works,)
    k : ndarray, shape (len(layout.CONSTANTS),)
    sums : ndarray, shape (works, h, len(layout.SUMS))
        Added to.
    detail : ndarray of float32, shape (works, h or 0, len(layout.DETAIL), 3)
        Written, where it has hours.
    """
    _loop()(hours, fixed, state, active, k, sums, detail)
