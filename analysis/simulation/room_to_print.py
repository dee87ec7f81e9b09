"""Links of the loop from the room to the moisture in frame, panel and print.

Each link takes one block of draws through one hour: ``b`` is the block, its rows named by
`analysis.simulation.layout.Row`, ``n`` how many draws it holds, ``k`` the numbers that all works
share, named by `Shared`.
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
from analysis.simulation.layout import Row, Shared, six

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
        b[Row.BAND_FRAME + j] = max(grown, wet * RESTART_WIDTH)
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
        b[Row.BAND_PRINT + j] = width + (begin + end) * (b[Row.BAND_FRAME + j] - width)
