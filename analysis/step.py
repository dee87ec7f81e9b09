"""The whole chain for works × draws × hours: the only copy of the loop.

Each link is a plain function of one draw in `enclosure`, `sheet`, `tension`, `cockle`; here they
are strung together over draws that lie side by side in memory, and over hours.
"""

from collections.abc import Callable
from functools import cache

import numpy as np
import numpy.typing as npt
from numba import prange

from analysis import layout
from analysis.cockle import largest_slope_mrad, wave_height_m
from analysis.compiled import compiled_parallel, part, sources_digest, written_out
from analysis.enclosure import (
    hold_weights_and_bump,
    hold_weights_fast,
    pressure_ratio,
    within,
)
from analysis.headroom import headroom_down, headroom_up
from analysis.isotherm import polynomial_5, slope_parts, slope_ratio, small_exp, temperature_term
from analysis.ranges import weighted_ranges
from analysis.results import Floats
from analysis.sheet import humidity_path
from analysis.tension import bled_off, moved_play, relaxed

BLOCK = layout.BLOCK
N_FIXED, N_STATE, N_ROWS = len(layout.FIXED), len(layout.STATE), len(layout.ROWS)
N_SUMS, N_DETAIL = len(layout.SUMS), len(layout.DETAIL)

(
    RH_OFFSET,
    GAP_FILL,
    WALL,
    OUTDOOR,
    HEAT_BEGIN,
    HEAT_END,
    HEAT_BEGIN_HALF,
    HEAT_END_HALF,
    HEAT_SCALE,
    FRAME_RATE,
    CORE_RATE,
    IMAGE_RATE,
    PANEL_RATE,
    IMAGE_SHARE,
    OUTSIDE,
    BETA_MD,
    BETA_CD,
    PANEL_MD,
    PANEL_CD,
    ALPHA_MD,
    ALPHA_CD,
    START_MD,
    START_CD,
    SHRINK_MD,
    SHRINK_CD,
    SOFTEN,
    SORPTIVE,
    DEADBAND,
    RELAX_M,
    ZERO_GAIN,
    MAT_GAIN_MD,
    MAT_GAIN_CD,
    GAIN_MD,
    GAIN_CD,
    EA_MD,
    EA_CD,
    CREEP_MD,
    CREEP_CD,
    SUSTAIN_MD,
    SUSTAIN_CD,
    CAPACITY_MD,
    CAPACITY_CD,
    WEEK_LIMIT,
    BUCKLE,
    SLACK_VISIBLE,
    SLACK_CONTACT,
    WAVELENGTH,
    PER_RH_MD,
    PER_RH_CD,
    WEIGHT,
    OUTER_C,
    TEMP_C,
    RATIO,
    SHIFT,
    DRIVE,
    PSI_FRAME,
    GAP_WIDTH,
    BAND_FRAME,
    BAND_PRINT,
    PSI_IMAGE,
    PSI_CORE,
    PSI_PANEL,
    PLAY,
    PEAK,
    LOSS_MD,
    LOSS_CD,
    CREEP_LOST_MD,
    CREEP_LOST_CD,
    WEEK_LOST,
    ABOVE_MD,
    ABOVE_CD,
    MAT_MD,
    MAT_CD,
    V_MD,
    _V_MD1,
    _V_MD2,
    _V_MD3,
    _V_MD4,
    _V_MD5,
    V_CD,
    _V_CD1,
    _V_CD2,
    _V_CD3,
    _V_CD4,
    _V_CD5,
    RATIO_BEFORE,
    RATIO_MIDDLE,
    PSI_BEFORE,
    RATE,
    HEAT,
    IMPOSED_MD,
    IMPOSED_CD,
    SOFT,
    CONDENSING,
) = (layout.offset(name) for name in layout.ROWS)
MAGNUS_A, MAGNUS_B, GAB_C, GAB_K, HALF_SLOPE = range(5)
NET_HEAT, PRONY_K, PRONY_DECAY, PRONY_BEGIN, PRONY_END = 5, 11, 17, 23, 29
LINEAR_FROM, LINEAR_TO, RELEASE_FROM, RELEASE_PER, WEEK_DECAY = range(35, 40)
RESTART_WIDTH = 0.15
# All files whose functions the loop contains.
SOURCES = (
    "compiled",
    "layout",
    "step",
    "enclosure",
    "isotherm",
    "sheet",
    "tension",
    "cockle",
    "headroom",
    "ranges",
)


@part
def six(k: Floats, at: int) -> tuple[float, float, float, float, float, float]:
    """Return six numbers that stand one after another."""
    return k[at], k[at + 1], k[at + 2], k[at + 3], k[at + 4], k[at + 5]


@part
def temperature_link(b: Floats, n: int, k: Floats, room_c: float, outdoor_c: float) -> None:
    """Thermal lag behind glazing and wall: outer_c, temp_c, ratio."""
    a, c = k[MAGNUS_A], k[MAGNUS_B]
    known = outdoor_c == outdoor_c
    for j in range(n):
        outside = outdoor_c if known else b[OUTDOOR + j]
        outer = room_c + b[WALL + j] * (outside - room_c)
        before = b[TEMP_C + j]
        old, new = b[OUTER_C + j] - before, outer - before
        half = b[HEAT_BEGIN_HALF + j] * old + b[HEAT_END_HALF + j] * 0.5 * (old + new)
        temp = before + b[HEAT_BEGIN + j] * old + b[HEAT_END + j] * new
        b[OUTER_C + j] = outer
        b[TEMP_C + j] = temp
        b[RATIO_BEFORE + j] = b[RATIO + j]
        b[RATIO_MIDDLE + j] = pressure_ratio(before + half, a, c)
        b[RATIO + j] = pressure_ratio(temp, a, c)


@part
def frame_link(b: Floats, n: int, k: Floats, low: float, high: float, room_ratio: float) -> None:
    """Moisture in the frame: predicted with old coefficients, corrected with middle ones."""
    c, kk, half = k[GAB_C], k[GAB_K], k[HALF_SLOPE]
    h0, h1, h2, h3, h4, h5 = six(k, NET_HEAT)
    for j in range(n):
        psi, drive, before = b[PSI_FRAME + j], b[DRIVE + j], b[SHIFT + j]
        ratio, middle_ratio = b[RATIO + j], b[RATIO_MIDDLE + j]
        level = low + b[GAP_FILL + j] * (high - low) + b[RH_OFFSET + j]
        pressure = min(max(level, 0.0), 1.0) * room_ratio
        # predicted, with the shift of the hour before
        above, below = slope_parts(psi, c, kk)
        speed = b[FRAME_RATE + j] * middle_ratio * before * half * above
        held = ratio * before
        guess = within((psi * below * held + speed * pressure) / ((below + speed) * held))
        # corrected
        term = b[HEAT_SCALE + j] * temperature_term(b[TEMP_C + j])
        shift = small_exp(term * polynomial_5(guess, h0, h1, h2, h3, h4, h5))
        heat = middle_ratio * 0.5 * (before + shift)
        inverse = 1.0 / (ratio * shift * heat)
        new_drive = within(pressure * heat * inverse)
        middle = 0.5 * (drive * before * b[RATIO_BEFORE + j] + pressure) * ratio * shift * inverse
        faster = heat * slope_ratio(0.5 * (psi + guess), c, kk, half)
        begin, end, bump = hold_weights_and_bump(b[FRAME_RATE + j] * faster)
        bent = middle - 0.5 * (drive + new_drive)
        moved = begin * (drive - psi) + end * (new_drive - psi) + bump * bent
        b[PSI_BEFORE + j] = psi
        b[PSI_FRAME + j] = within(psi + moved)
        b[DRIVE + j], b[SHIFT + j], b[RATE + j] = new_drive, shift, faster
        # width between the low and the high copy, carried by the same weights
        wet = 1.0 if pressure >= ratio else 0.0
        width, old = b[BAND_FRAME + j], b[GAP_WIDTH + j]
        new_width = (high - low) * room_ratio * heat * shift * inverse
        grown = width + begin * (old - width) + end * (new_width - width)
        b[BAND_FRAME + j] = max(grown, wet * RESTART_WIDTH)
        b[GAP_WIDTH + j], b[CONDENSING + j], b[HEAT + j] = new_width, wet, heat


@written_out
def follow(b: Floats, n: int, psi_row: int, rate_row: int) -> None:
    """Let a store of moisture follow the frame at its own pace.

    How fast, against 20 °C and 50 %RH, is taken from the frame's board.
    """
    for j in range(n):
        psi, before, after = b[psi_row + j], b[PSI_BEFORE + j], b[PSI_FRAME + j]
        begin, end = hold_weights_fast(b[rate_row + j] * b[RATE + j])
        b[psi_row + j] = psi + begin * (before - psi) + end * (after - psi)


@part
def stages_link(b: Floats, n: int, k: Floats, layered: bool) -> None:
    """Panel, image layer and body of the print, each following the frame."""
    c, kk, half = k[GAB_C], k[GAB_K], k[HALF_SLOPE]
    follow(b, n, PSI_PANEL, PANEL_RATE)
    if layered:
        follow(b, n, PSI_IMAGE, IMAGE_RATE)
    for j in range(n):
        psi, before, after = b[PSI_CORE + j], b[PSI_BEFORE + j], b[PSI_FRAME + j]
        speed = b[HEAT + j] * slope_ratio(0.5 * (psi + after), c, kk, half)
        begin, end = hold_weights_fast(b[CORE_RATE + j] * speed)
        b[PSI_CORE + j] = psi + begin * (before - psi) + end * (after - psi)
        width = b[BAND_PRINT + j]
        b[BAND_PRINT + j] = width + (begin + end) * (b[BAND_FRAME + j] - width)


@part
def strain_link(b: Floats, n: int, k: Floats) -> None:
    """Imposed strain of both axes, less what moisture cycles and creeping hinges took for good."""
    linear_from, linear_to = k[LINEAR_FROM], k[LINEAR_TO]
    release_from, release_per, week = k[RELEASE_FROM], k[RELEASE_PER], k[WEEK_DECAY]
    for j in range(n):
        share = b[IMAGE_SHARE + j]
        psi = share * b[PSI_IMAGE + j] + (1.0 - share) * b[PSI_CORE + j]
        peak = max(b[PEAK + j], psi)
        b[PEAK + j] = peak
        released = min(max((peak - release_from) * release_per, 0.0), 1.0)
        path = humidity_path(psi, linear_from, linear_to, b[OUTSIDE + j])
        soft = small_exp(-b[SOFTEN + j] * (psi - 0.5))
        b[SOFT + j] = soft
        moved = moved_play(b[PLAY + j], psi, b[DEADBAND + j])
        cycled = 1.0 - small_exp(-b[SORPTIVE + j] * abs(moved - b[PLAY + j]))
        b[PLAY + j] = moved
        panel, temp = b[PSI_PANEL + j], b[TEMP_C + j]
        above_md = max(b[ABOVE_MD + j], 0.0)
        above_cd = max(b[ABOVE_CD + j], 0.0)
        b[LOSS_MD + j] += cycled * above_md
        b[LOSS_CD + j] += cycled * above_cd
        crept_md = bled_off(b[GAIN_MD + j] * above_md * soft, b[SUSTAIN_MD + j], b[CREEP_MD + j])
        crept_cd = bled_off(b[GAIN_CD + j] * above_cd * soft, b[SUSTAIN_CD + j], b[CREEP_CD + j])
        b[CREEP_LOST_MD + j] += crept_md
        b[CREEP_LOST_CD + j] += crept_cd
        b[WEEK_LOST + j] = b[WEEK_LOST + j] * week + max(crept_md, crept_cd)
        b[IMPOSED_MD + j] = (
            b[START_MD + j]
            - b[BETA_MD + j] * path
            + b[PANEL_MD + j] * panel
            + b[ALPHA_MD + j] * temp
            + b[SHRINK_MD + j] * released
            - b[LOSS_MD + j]
            - b[CREEP_LOST_MD + j]
        )
        b[IMPOSED_CD + j] = (
            b[START_CD + j]
            - b[BETA_CD + j] * path
            + b[PANEL_CD + j] * panel
            + b[ALPHA_CD + j] * temp
            + b[SHRINK_CD + j] * released
            - b[LOSS_CD + j]
            - b[CREEP_LOST_CD + j]
        )


@written_out
def relax_axis(
    b: Floats, n: int, k: Floats, v_row: int, mat_row: int, above_row: int, rows: tuple[int, int]
) -> None:
    """Relaxation of one axis; ``rows`` are its imposed strain and its gain."""
    imposed_row, gain_row = rows
    weights, decay = six(k, PRONY_K), six(k, PRONY_DECAY)
    first, last = six(k, PRONY_BEGIN), six(k, PRONY_END)
    for j in range(n):
        above, mat, v = relaxed(
            b[imposed_row + j],
            b[mat_row + j],
            b[RELAX_M + j],
            b[ZERO_GAIN + j],
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
    relax_axis(b, n, k, V_MD, MAT_MD, ABOVE_MD, (IMPOSED_MD, MAT_GAIN_MD))
    relax_axis(b, n, k, V_CD, MAT_CD, ABOVE_CD, (IMPOSED_CD, MAT_GAIN_CD))


@part
def surface_link(b: Floats, n: int, sums: Floats) -> None:
    """Add this block's weights of draws that are slack, seen, near the glazing, giving way."""
    slack_p, visible_p, contact_p, hinges_p = 0.0, 0.0, 0.0, 0.0
    band, above_85, wet, temperature = 0.0, 0.0, 0.0, 0.0
    for j in range(n):
        weight, soft = b[WEIGHT + j], b[SOFT + j]
        slack = max(-b[ABOVE_MD + j], -b[ABOVE_CD + j]) - b[BUCKLE + j]
        slack_p += weight if slack > 0.0 else 0.0
        visible_p += weight if slack > b[SLACK_VISIBLE + j] else 0.0
        contact_p += weight if slack > b[SLACK_CONTACT + j] else 0.0
        load_md = b[GAIN_MD + j] * b[ABOVE_MD + j] * soft - b[CAPACITY_MD + j]
        load_cd = b[GAIN_CD + j] * b[ABOVE_CD + j] * soft - b[CAPACITY_CD + j]
        lost = b[WEEK_LOST + j] - b[WEEK_LIMIT + j]
        hinges_p += weight if max(max(load_md, load_cd), lost) > 0.0 else 0.0
        band += weight * b[BAND_PRINT + j]
        above_85 += weight if b[PSI_CORE + j] * b[SHIFT + j] > 0.85 else 0.0
        wet += weight * b[CONDENSING + j]
        temp = b[TEMP_C + j]
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
def detail_link(b: Floats, n: int, out: npt.NDArray[np.float32], at: int) -> None:
    """Write what the ranges are taken from: one row a quantity, this block's draws from ``at``."""
    for j in range(n):
        shift, soft = b[SHIFT + j], b[SOFT + j]
        share = b[IMAGE_SHARE + j]
        psi = share * b[PSI_IMAGE + j] + (1.0 - share) * b[PSI_CORE + j]
        md, cd = b[ABOVE_MD + j], b[ABOVE_CD + j]
        per_md, per_cd = b[PER_RH_MD + j], b[PER_RH_CD + j]
        slack = max(max(-md, -cd) - b[BUCKLE + j], 0.0)
        load_md = b[EA_MD + j] * b[GAIN_MD + j] * max(md, 0.0)
        load_cd = b[EA_CD + j] * b[GAIN_CD + j] * max(cd, 0.0)
        left_md = b[SUSTAIN_MD + j] / (b[GAIN_MD + j] * soft) - md
        left_cd = b[SUSTAIN_CD + j] / (b[GAIN_CD + j] * soft) - cd
        out[0, at + j] = 100.0 * b[PSI_FRAME + j] * shift
        out[1, at + j] = 100.0 * psi * shift
        out[2, at + j] = min(load_md, load_cd) * soft
        out[3, at + j] = largest_slope_mrad(slack)
        out[4, at + j] = 1000.0 * wave_height_m(slack, b[WAVELENGTH + j])
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
    values = np.empty((length if wanted else 0, N_DETAIL, n), dtype=np.float32)
    weight = fixed[N_FIXED - 1].astype(np.float32)
    b = np.empty(N_ROWS * BLOCK)
    layered = np.max(fixed[IMAGE_SHARE // BLOCK]) > 0.0
    for start in range(0, n, BLOCK):
        size = min(BLOCK, n - start)
        for row in range(N_FIXED):
            b[row * BLOCK : row * BLOCK + size] = fixed[row, start : start + size]
        for row in range(N_STATE):
            at = (N_FIXED + row) * BLOCK
            b[at : at + size] = state[row, start : start + size]
        for h in range(length):
            temperature_link(b, size, k, hours[h, 0], hours[h, 1])
            frame_link(b, size, k, hours[h, 2], hours[h, 3], hours[h, 4])
            stages_link(b, size, k, layered)
            strain_link(b, size, k)
            tension_link(b, size, k)
            surface_link(b, size, sums[h])
            if wanted:
                detail_link(b, size, values[h], start)
        for row in range(N_STATE):
            at = (N_FIXED + row) * BLOCK
            state[row, start : start + size] = b[at : at + size]
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
