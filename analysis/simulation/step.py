"""The whole chain for works × draws × hours: the only copy of the loop.

Each step of the physics is a plain function of one draw in `enclosure`, `sheet`, `tension`,
`cockle`. The links below string them together over draws that lie side by side in memory; the
loop strings the links together over hours and works.
"""

import numpy as np
import numpy.typing as npt

from analysis.chain.cockle import largest_slope_mrad, wave_height_m
from analysis.chain.compiled import part, written_out
from analysis.chain.enclosure import (
    faded,
    hold_weights_and_bump,
    hold_weights_fast,
    predicted_psi,
    pressure_ratio,
    within,
)
from analysis.chain.headroom import headroom_down, headroom_up
from analysis.chain.isotherm import (
    polynomial_5,
    slope_ratio,
    small_exp,
    small_loss,
    temperature_term,
)
from analysis.chain.sheet import humidity_path
from analysis.chain.tension import bled_off, moved_play, relaxed
from analysis.results import Floats
from analysis.simulation import layout
from analysis.simulation.layout import ACROSS, BLOCK, LANES, Detail, Hour, Row, Shared, Sum, six
from analysis.simulation.ranges import (
    Counts,
    counted,
    counted_weights,
    shares_of_levels,
    weighted_ranges,
)
from analysis.simulation.weeks import (
    GIVING,
    NEAR,
    SEEN,
    Signs,
    carry_week,
    is_known,
    share_within_week,
)

N_FIXED, N_CARRIED, N_ROWS = len(layout.FIXED), len(layout.CARRIED), len(layout.ROWS)
N_SUMS, N_DETAIL = len(layout.SUMS), len(layout.DETAIL)


@part
def hour_link(b: Floats, n: int, k: Floats, hour: Floats, layered: bool) -> None:
    """Take a block of draws through one hour, from the room to the tension."""
    temperature_link(b, n, k, hour[Hour.ROOM_C], hour[Hour.OUTDOOR_C])
    low, high, ratio = hour[Hour.RH_LOW], hour[Hour.RH_HIGH], hour[Hour.ROOM_RATIO]
    frame_link(b, n, k, low, high, ratio, hour[Hour.UNCHECKED_A])
    stages_link(b, n, k, layered)
    moisture_link(b, n, k)
    tension_link(b, n, k)
    losses_link(b, n, k)
    discrepancy_link(b, n, hour)


@part
def work_through(
    hours: Floats,
    fixed: Floats,
    state: Floats,
    k: Floats,
    sums: Floats,
    detail: npt.NDArray[np.float32],
) -> None:
    """Carry one work through the hours: shapes (h, HOUR), (FIXED, n), (STATE, n), (h, SUMS)."""
    n, length, wanted = fixed.shape[1], hours.shape[0], detail.shape[0] > 0
    values = np.empty((length if wanted else 0, N_DETAIL, n), dtype=np.int32)
    signs = np.empty((length, n), dtype=np.uint8)
    b = np.empty(N_ROWS * BLOCK, dtype=k.dtype)
    layered = np.max(fixed[Row.IMAGE_SHARE // BLOCK]) > 0.0
    for start in range(0, n, BLOCK):
        end = min(start + BLOCK, n)
        size = end - start
        for row in range(N_FIXED):
            b[row * BLOCK : row * BLOCK + size] = fixed[row, start:end]
        for row in range(N_CARRIED):
            at = (N_FIXED + row) * BLOCK
            b[at : at + size] = state[row, start:end]
        for h in range(length):
            hour_link(b, size, k, hours[h], layered)
            surface_link(b, size, sums[h], signs[h, start:end])
            doubts_link(b, size, sums[h])
            if wanted:
                detail_link(b, size, values[h, :, start:end])
                headroom_link(b, size, values[h, :, start:end])
        for row in range(N_CARRIED):
            at = (N_FIXED + row) * BLOCK
            state[row, start:end] = b[at : at + size]
    week_link(signs, fixed[Row.WEIGHT // BLOCK], state, k, sums)
    range_link(values, fixed[Row.WEIGHT // BLOCK], detail)


@part
def works_beside(
    hours: Floats,
    fixed: Floats,
    state: Floats,
    k: Floats,
    sums: Floats,
    members: npt.NDArray[np.int64],
) -> None:
    """Carry works of few draws through the hours side by side: the same as each by itself.

    ``members`` are their places in ``fixed``, ``state`` and ``sums``, or negative. All of them have
    an image layer, or none has; together they have no more draws than a block.
    """
    n, length, many = fixed.shape[2], hours.shape[0], 0
    for i in members:
        many += 1 if i >= 0 else 0
    signs = np.empty((many, length, n), dtype=np.uint8)
    b = np.empty(N_ROWS * BLOCK, dtype=k.dtype)
    layered = np.max(fixed[members[0], Row.IMAGE_SHARE // BLOCK]) > 0.0
    size = -(-many * n // LANES) * LANES  # the last draw fills what is left
    for j in range(size):
        draw = min(j, many * n - 1)
        i, at = members[draw // n], draw % n
        for row in range(N_FIXED):
            b[row * BLOCK + j] = fixed[i, row, at]
        for row in range(N_CARRIED):
            b[(N_FIXED + row) * BLOCK + j] = state[i, row, at]
    for h in range(length):
        hour_link(b, size, k, hours[h], layered)
        for which in range(many):
            own = b[which * n :]
            surface_link(own, n, sums[members[which], h], signs[which, h])
            doubts_link(own, n, sums[members[which], h])
    for which in range(many):
        i, first = members[which], which * n
        for row in range(N_CARRIED):
            at = (N_FIXED + row) * BLOCK + first
            state[i, row, :] = b[at : at + n]
        week_link(signs[which], fixed[i, Row.WEIGHT // BLOCK], state[i], k, sums[i])


@part
def week_link(signs: Signs, weight: Floats, state: Floats, k: Floats, sums: Floats) -> None:
    """Carry how long ago each draw was seen, near the glazing, giving way; write the shares."""
    # the rows of `layout.PAST`
    since_h = (state[N_CARRIED], state[N_CARRIED + 1], state[N_CARRIED + 2])
    for h in range(signs.shape[0]):
        carry_week(since_h, signs[h], is_known(sums[h], k[Shared.WIDEST_PCT], k[Shared.MOST]))
        sums[h, Sum.VISIBLE_WEEK] = share_within_week(since_h[0], weight)
        sums[h, Sum.CLEARANCE_WEEK] = share_within_week(since_h[1], weight)
        sums[h, Sum.HINGES_WEEK] = share_within_week(since_h[2], weight)


@part
def range_link(
    values: npt.NDArray[np.int32], weight: Floats, detail: npt.NDArray[np.float32]
) -> None:
    """Write the ranges of the hours in ``values``, shape (h or 0, DETAIL, n)."""
    shares = counted_weights(weight)
    levels, cells = shares_of_levels(shares), np.zeros_like(shares)
    for h in range(values.shape[0]):
        for q in range(N_DETAIL):
            weighted_ranges(values[h, q], shares, levels, cells, detail[h, q])


# Links of the loop from the room to the moisture in frame, panel and print.
#
# Each link takes one block of draws through one hour: ``b`` is the block, its rows named by
# `analysis.simulation.layout.Row`, ``n`` how many draws it holds, ``k`` the numbers that all
# works
# share, named by `Shared`.

RESTART_WIDTH = 0.15


@part
def temperature_link(b: Floats, n: int, k: Floats, room_c: float, outdoor_c: float) -> None:
    """Thermal lag behind glazing and wall: outer_c, temp_c, ratio."""
    a, c = k[Shared.MAGNUS_A], k[Shared.MAGNUS_B]
    known = outdoor_c == outdoor_c
    for j in range(n):
        # outer = room + frame over logger + w (outdoors - room); temp follows, outer being linear
        outside = outdoor_c if known else b[Row.OUTDOOR_C + j]
        outer = room_c + b[Row.FRAME_C + j] + b[Row.WALL_FACTOR + j] * (outside - room_c)
        before = b[Row.TEMP_C + j]
        old, new = b[Row.OUTER_C + j] - before, outer - before
        half = b[Row.HEAT_BEGIN_HALF + j] * old + b[Row.HEAT_END_HALF + j] * 0.5 * (old + new)
        temp = before + b[Row.HEAT_BEGIN + j] * old + b[Row.HEAT_END + j] * new
        b[Row.OUTER_C + j] = outer
        b[Row.TEMP_C + j] = temp
        b[Row.RATIO_BEFORE + j] = b[Row.RATIO + j]
        b[Row.RATIO_MIDDLE + j] = pressure_ratio(before + half, a, c)
        b[Row.RATIO + j] = pressure_ratio(temp, a, c)


@part
def frame_link(
    b: Floats, n: int, k: Floats, low: float, high: float, room_ratio: float, unchecked_a: float
) -> None:
    """Moisture in the frame: predicted with old coefficients, corrected with middle ones."""
    c, kk, half = k[Shared.GAB_C], k[Shared.GAB_K], k[Shared.HALF_SLOPE]
    h0, h1, h2, h3, h4, h5 = six(k, Shared.HEAT_0, 1)
    for j in range(n):
        psi, drive, before = b[Row.PSI_FRAME + j], b[Row.DRIVE + j], b[Row.SHIFT + j]
        ratio, middle_ratio = b[Row.RATIO + j], b[Row.RATIO_MIDDLE + j]
        # d psi/dt = rate · heat · slope(0.5)/slope(psi) · (drive - psi), drive = pressure/(ratio f)
        # f and slope are those of the middle of the hour, guessed by one implicit step
        offset = b[Row.RH_OFFSET + j] + b[Row.DRIFT + j] * unchecked_a
        level = low + b[Row.GAP_FILL + j] * (high - low) + offset
        pressure = min(max(level, 0.0), 1.0) * room_ratio
        rate = b[Row.FRAME_RATE + j] * middle_ratio * before
        guess = predicted_psi(psi, pressure, ratio * before, rate, c, kk, half)
        term = b[Row.HEAT_SCALE + j] * temperature_term(b[Row.TEMP_C + j])
        shift = small_exp(term * polynomial_5(guess, h0, h1, h2, h3, h4, h5))
        heat = middle_ratio * 0.5 * (before + shift)
        inverse = 1.0 / (ratio * shift * heat)
        new_drive = within(pressure * heat * inverse)
        pressure_before = drive * before * b[Row.RATIO_BEFORE + j]
        middle = 0.5 * (pressure_before + pressure) * ratio * shift * inverse
        faster = heat * slope_ratio(0.5 * (psi + guess), c, kk, half)
        begin, end, bump = hold_weights_and_bump(b[Row.FRAME_RATE + j] * faster)
        # psi' = psi + begin (drive - psi) + end (drive' - psi) + bump · bend of drive at mid-step
        bent = middle - 0.5 * (drive + new_drive)
        moved = begin * (drive - psi) + end * (new_drive - psi) + bump * bent
        b[Row.PSI_BEFORE + j] = psi
        b[Row.PSI_FRAME + j] = within(psi + moved)
        b[Row.DRIVE + j], b[Row.SHIFT + j], b[Row.RATE + j] = new_drive, shift, faster
        # width between the low and the high copy, carried by the same weights
        wet = 1.0 if pressure >= ratio else 0.0
        width, old = b[Row.BAND_FRAME + j], b[Row.GAP_WIDTH + j]
        new_width = (high - low) * room_ratio * heat * shift * inverse
        grown = width + begin * (old - width) + end * (new_width - width)
        b[Row.BAND_FRAME + j] = faded(max(grown, wet * RESTART_WIDTH))
        b[Row.GAP_WIDTH + j], b[Row.CONDENSING + j], b[Row.HEAT + j] = new_width, wet, heat


@written_out
def follow(b: Floats, n: int, psi_row: int, rate_row: int) -> None:
    """Let a store of moisture follow the frame at its own pace.

    How fast, against 20 °C and 50 %RH, is taken from the frame's board.
    """
    for j in range(n):
        psi, before, after = b[psi_row + j], b[Row.PSI_BEFORE + j], b[Row.PSI_FRAME + j]
        begin, end = hold_weights_fast(b[rate_row + j] * b[Row.RATE + j])
        b[psi_row + j] = psi + begin * (before - psi) + end * (after - psi)


@part
def stages_link(b: Floats, n: int, k: Floats, layered: bool) -> None:
    """Panel, image layer and body of the print, each following the frame."""
    c, kk, half = k[Shared.GAB_C], k[Shared.GAB_K], k[Shared.HALF_SLOPE]
    follow(b, n, Row.PSI_PANEL, Row.PANEL_RATE)
    if layered:
        follow(b, n, Row.PSI_IMAGE, Row.IMAGE_RATE)
    for j in range(n):
        psi, before, after = b[Row.PSI_CORE + j], b[Row.PSI_BEFORE + j], b[Row.PSI_FRAME + j]
        speed = b[Row.HEAT + j] * slope_ratio(0.5 * (psi + after), c, kk, half)
        begin, end = hold_weights_fast(b[Row.CORE_RATE + j] * speed)
        b[Row.PSI_CORE + j] = psi + begin * (before - psi) + end * (after - psi)
        width = b[Row.BAND_PRINT + j]
        b[Row.BAND_PRINT + j] = faded(width + (begin + end) * (b[Row.BAND_FRAME + j] - width))


# Links of the loop from the moisture of print and panel to what is left of each axis's stretch.
#
# As in `analysis.simulation.step`, each takes one block of draws through one hour.

APART = 2 * ACROSS  # from one internal strain of an axis to its next


@part
def moisture_link(b: Floats, n: int, k: Floats) -> None:
    """Work out what moisture does: path, shrinkage, softness, and how far it has cycled."""
    linear_from, linear_to = k[Shared.LINEAR_FROM], k[Shared.LINEAR_TO]
    release_from, release_per = k[Shared.RELEASE_FROM], k[Shared.RELEASE_PER]
    for j in range(n):
        # psi of the print: image layer and body by their shares; soft = exp(-soften (psi - 0.5));
        # cycled = 1 - exp(-sorptive |moved play|)
        share = b[Row.IMAGE_SHARE + j]
        psi = share * b[Row.PSI_IMAGE + j] + (1.0 - share) * b[Row.PSI_CORE + j]
        peak = max(b[Row.PEAK + j], psi)
        b[Row.PEAK + j] = peak
        b[Row.RELEASED + j] = min(max((peak - release_from) * release_per, 0.0), 1.0)
        b[Row.PATH + j] = humidity_path(psi, linear_from, linear_to, b[Row.OUTSIDE + j])
        b[Row.SOFT + j] = small_exp(-b[Row.SOFTEN + j] * (psi - 0.5))
        moved = moved_play(b[Row.PLAY + j], psi, b[Row.DEADBAND + j])
        b[Row.CYCLED + j] = small_loss(b[Row.SORPTIVE + j] * abs(moved - b[Row.PLAY + j]))
        b[Row.PLAY + j] = moved
        b[Row.LAG + j] = moved - psi


@written_out
def axis_link(b: Floats, n: int, k: Floats, axis: int) -> None:
    """Imposed strain of an axis, less what was lost for good, and its relaxation.

    ``axis`` is 0 along the grain, `ACROSS` across it.
    """
    weights, decay = six(k, Shared.K_0, 1), six(k, Shared.DECAY_0, 1)
    first, last = six(k, Shared.BEGIN_0, 1), six(k, Shared.END_0, 1)
    for j in range(n):
        a = axis + j
        # e = start - beta path + panel psi_panel + alpha T + shrink released - lost - crept
        imposed = (
            b[Row.START_MD + a]
            - b[Row.BETA_MD + a] * b[Row.PATH + j]
            + b[Row.PANEL_MD + a] * b[Row.PSI_PANEL + j]
            + b[Row.ALPHA_MD + a] * b[Row.TEMP_C + j]
            + b[Row.SHRINK_MD + a] * b[Row.RELEASED + j]
            - b[Row.LOSS_MD + a]
            - b[Row.CREEP_LOST_MD + a]
        )
        # above = e - e_zero, of which relaxation within the hour leaves a share;
        # e_mat = e_zero + f max(above, 0); v_i follow e_mat
        mat, m, zero = b[Row.MAT_MD + a], b[Row.RELAX_M + j], b[Row.ZERO_GAIN + j]
        inner, gain = six(b, Row.V_MD_0 + a, APART), b[Row.MAT_GAIN_MD + a]
        above, mat, v = relaxed(imposed, mat, m, zero, gain, inner, weights, decay, first, last)
        b[Row.WAS_MD + a] = b[Row.ABOVE_MD + a]
        left = b[Row.LEFT_MD + a] if above > 0.0 else 1.0
        b[Row.ABOVE_MD + a], b[Row.MAT_MD + a] = above * left, mat
        b[Row.V_MD_0 + a], b[Row.V_MD_0 + APART + a] = v[0], v[1]
        b[Row.V_MD_0 + 2 * APART + a], b[Row.V_MD_0 + 3 * APART + a] = v[2], v[3]
        b[Row.V_MD_0 + 4 * APART + a], b[Row.V_MD_0 + 5 * APART + a] = v[4], v[5]


@part
def tension_link(b: Floats, n: int, k: Floats) -> None:
    """Both axes."""
    axis_link(b, n, k, 0)
    axis_link(b, n, k, ACROSS)


@part
def losses_link(b: Floats, n: int, k: Floats) -> None:
    """Take what moisture's cycles and creeping hinges take of the reserve for good.

    Both act on the mean of the reserve before and after the hour. What the hinges give is summed
    over the last week or so.
    """
    week = k[Shared.WEEK_DECAY]
    for j in range(n):
        md = 0.5 * (max(b[Row.WAS_MD + j], 0.0) + max(b[Row.ABOVE_MD + j], 0.0))
        cd = 0.5 * (max(b[Row.WAS_CD + j], 0.0) + max(b[Row.ABOVE_CD + j], 0.0))
        b[Row.LOSS_MD + j] += b[Row.CYCLED + j] * md
        b[Row.LOSS_CD + j] += b[Row.CYCLED + j] * cd
        # N/EA = gain · above · soft; what exceeds the sustained N/EA bleeds off
        soft = b[Row.SOFT + j]
        reserve_md, reserve_cd = b[Row.GAIN_MD + j] * md * soft, b[Row.GAIN_CD + j] * cd * soft
        crept_md = bled_off(reserve_md, b[Row.SUSTAIN_MD + j], b[Row.CREEP_MD + j])
        crept_cd = bled_off(reserve_cd, b[Row.SUSTAIN_CD + j], b[Row.CREEP_CD + j])
        b[Row.CREEP_LOST_MD + j] += crept_md
        b[Row.CREEP_LOST_CD + j] += crept_cd
        b[Row.WEEK_LOST + j] = faded(b[Row.WEEK_LOST + j] * week + max(crept_md, crept_cd))


@part
def discrepancy_link(b: Floats, n: int, hour: Floats) -> None:
    """Add to the reserve, as it is read, what the chain may be off by; nothing is fed back."""
    year_cos, year_sin = hour[Hour.YEAR_COS], hour[Hour.YEAR_SIN]
    for j in range(n):
        # delta = season - path share · (play - psi), as a humidity; seen = above + beta delta
        season = b[Row.SEASON_COS + j] * year_cos + b[Row.SEASON_SIN + j] * year_sin
        delta = season - b[Row.PATH_SHARE + j] * b[Row.LAG + j]
        b[Row.SEEN_MD + j] = b[Row.ABOVE_MD + j] + b[Row.BETA_MD + j] * delta
        b[Row.SEEN_CD + j] = b[Row.ABOVE_CD + j] + b[Row.BETA_CD + j] * delta


# Links of the loop from tension and slack to what shows: the draws' weights, and single draws.
#
# As in `analysis.simulation.step`, each takes one block of draws through one hour.


@part
def surface_link(b: Floats, n: int, sums: Floats, signs: Signs) -> None:
    """Add the weights of the draws that are slack, seen, near the glazing, their hinges giving way.

    ``signs``, shape (n,), has the last three draw by draw.
    """
    slack_p, visible_p, contact_p, hinges_p = 0.0, 0.0, 0.0, 0.0
    for j in range(n):
        weight = b[Row.WEIGHT + j]
        slack = max(-b[Row.SEEN_MD + j], -b[Row.SEEN_CD + j]) - b[Row.BUCKLE + j]
        seen, near = slack > b[Row.SLACK_VISIBLE + j], slack > b[Row.SLACK_CONTACT + j]
        load_md = b[Row.LOAD_MD + j] * b[Row.ABOVE_MD + j]
        load_cd = b[Row.LOAD_CD + j] * b[Row.ABOVE_CD + j]
        load = max(load_md, load_cd) * b[Row.SOFT + j]
        b[Row.OVERLOAD + j] = max(b[Row.OVERLOAD + j], load)
        giving = max(load - 1.0, b[Row.WEEK_LOST + j] - b[Row.WEEK_LIMIT + j]) > 0.0
        slack_p += weight if slack > 0.0 else 0.0
        visible_p += weight if seen else 0.0
        contact_p += weight if near else 0.0
        hinges_p += weight if giving else 0.0
        signs[j] = (SEEN if seen else 0) | (NEAR if near else 0) | (GIVING if giving else 0)
    sums[Sum.SLACK] += slack_p
    sums[Sum.VISIBLE] += visible_p
    sums[Sum.CLEARANCE] += contact_p
    sums[Sum.HINGES] += hinges_p


@part
def doubts_link(b: Floats, n: int, sums: Floats) -> None:
    """Add what may make an hour's numbers be refused: mean band, draws where no model holds."""
    band, above_85, wet, temperature = 0.0, 0.0, 0.0, 0.0
    for j in range(n):
        weight, temp = b[Row.WEIGHT + j], b[Row.TEMP_C + j]
        band += weight * b[Row.BAND_PRINT + j]
        above_85 += weight if b[Row.PSI_CORE + j] * b[Row.SHIFT + j] > 0.85 else 0.0
        wet += weight * b[Row.CONDENSING + j]
        temperature += weight if abs(temp - 20.0) > 20.0 else 0.0
    sums[Sum.BAND] += band
    sums[Sum.ABOVE_85] += above_85
    sums[Sum.CONDENSING] += wet
    sums[Sum.TEMPERATURE] += temperature


@part
def detail_link(b: Floats, n: int, out: Counts) -> None:
    """Write what the ranges are taken from, counted: shape (DETAIL, n)."""
    for j in range(n):
        shift, share = b[Row.SHIFT + j], b[Row.IMAGE_SHARE + j]
        psi = share * b[Row.PSI_IMAGE + j] + (1.0 - share) * b[Row.PSI_CORE + j]
        md, cd = b[Row.SEEN_MD + j], b[Row.SEEN_CD + j]
        slack = max(max(-md, -cd) - b[Row.BUCKLE + j], 0.0)
        load_md = b[Row.EA_MD + j] * b[Row.GAIN_MD + j] * max(md, 0.0)
        load_cd = b[Row.EA_CD + j] * b[Row.GAIN_CD + j] * max(cd, 0.0)
        out[Detail.FRAME_RH_PCT, j] = counted(100.0 * b[Row.PSI_FRAME + j] * shift)
        out[Detail.PRINT_RH_PCT, j] = counted(100.0 * psi * shift)
        out[Detail.TENSION_N_M, j] = counted(min(load_md, load_cd) * b[Row.SOFT + j])
        out[Detail.SLOPE_MRAD, j] = counted(largest_slope_mrad(slack))
        out[Detail.WAVE_MM, j] = counted(1000.0 * wave_height_m(slack, b[Row.WAVELENGTH + j]))


@part
def headroom_link(b: Floats, n: int, out: Counts) -> None:
    """Write the headroom up and down, counted."""
    for j in range(n):
        md, cd = b[Row.SEEN_MD + j], b[Row.SEEN_CD + j]
        per_md, per_cd = b[Row.PER_RH_MD + j], b[Row.PER_RH_CD + j]
        hard = 1.0 / b[Row.SOFT + j]
        held_md = b[Row.SUSTAIN_MD + j] / b[Row.GAIN_MD + j] * hard
        held_cd = b[Row.SUSTAIN_CD + j] / b[Row.GAIN_CD + j] * hard
        held, stiffer = (held_md, held_cd), 0.01 * b[Row.SOFTEN + j]
        dry_md, dry_cd = b[Row.PER_DRY_MD + j], b[Row.PER_DRY_CD + j]
        # quick: the print alone moves, by beta per %RH; dry: the panel shrinks more than the print
        quick = headroom_up(md, cd, 100.0 / b[Row.BETA_MD + j], 100.0 / b[Row.BETA_CD + j])
        slipped = max(b[Row.CREEP_LOST_MD + j], b[Row.CREEP_LOST_CD + j])
        out[Detail.HEADROOM_QUICK_PCT, j] = counted(quick)
        out[Detail.HEADROOM_DRY_PCT, j] = counted(headroom_up(md, cd, dry_md, dry_cd))
        out[Detail.HINGE_SLIP_MM_M, j] = counted(1000.0 * slipped)
        out[Detail.HEADROOM_UP_PCT, j] = counted(headroom_up(md, cd, per_md, per_cd))
        down = headroom_down((md, cd), held, (per_md, per_cd), stiffer)
        out[Detail.HEADROOM_DOWN_PCT, j] = counted(down)
