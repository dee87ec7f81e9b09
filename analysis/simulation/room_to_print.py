"""Links of the loop from the room to the moisture in frame, panel and print.

Each link takes one block of draws through one hour: ``b`` is the block
(`analysis.simulation.rows`), ``n`` how many draws it holds, ``k`` the numbers that all works share.
"""

from analysis.chain.compiled import part, written_out
from analysis.chain.enclosure import (
    hold_weights_and_bump,
    hold_weights_fast,
    predicted_psi,
    pressure_ratio,
    within,
)
from analysis.chain.isotherm import polynomial_5, slope_ratio, small_exp, temperature_term
from analysis.results import Floats
from analysis.simulation import rows

RESTART_WIDTH = 0.15


@part
def temperature_link(b: Floats, n: int, k: Floats, room_c: float, outdoor_c: float) -> None:
    """Thermal lag behind glazing and wall: outer_c, temp_c, ratio."""
    a, c = k[rows.MAGNUS_A], k[rows.MAGNUS_B]
    known = outdoor_c == outdoor_c
    for j in range(n):
        outside = outdoor_c if known else b[rows.OUTDOOR_C + j]
        outer = room_c + b[rows.WALL_FACTOR + j] * (outside - room_c)
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
    h0, h1, h2, h3, h4, h5 = rows.six(k, rows.NET_HEAT, 1)
    for j in range(n):
        psi, drive, before = b[rows.PSI_FRAME + j], b[rows.DRIVE + j], b[rows.SHIFT + j]
        ratio, middle_ratio = b[rows.RATIO + j], b[rows.RATIO_MIDDLE + j]
        level = low + b[rows.GAP_FILL + j] * (high - low) + b[rows.RH_OFFSET + j]
        pressure = min(max(level, 0.0), 1.0) * room_ratio
        rate = b[rows.FRAME_RATE + j] * middle_ratio * before
        guess = predicted_psi(psi, pressure, ratio * before, rate, c, kk, half)
        term = b[rows.HEAT_SCALE + j] * temperature_term(b[rows.TEMP_C + j])
        shift = small_exp(term * polynomial_5(guess, h0, h1, h2, h3, h4, h5))
        heat = middle_ratio * 0.5 * (before + shift)
        inverse = 1.0 / (ratio * shift * heat)
        new_drive = within(pressure * heat * inverse)
        pressure_before = drive * before * b[rows.RATIO_BEFORE + j]
        middle = 0.5 * (pressure_before + pressure) * ratio * shift * inverse
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
