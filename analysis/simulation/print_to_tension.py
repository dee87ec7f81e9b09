"""Links of the loop from the moisture of print and panel to what is left of each axis's stretch.

As in `analysis.simulation.room_to_print`, each takes one block of draws through one hour.
"""

from analysis.chain.compiled import part, written_out
from analysis.chain.isotherm import small_exp
from analysis.chain.sheet import humidity_path
from analysis.chain.tension import bled_off, moved_play, relaxed
from analysis.results import Floats
from analysis.simulation import rows

APART = 2 * rows.ACROSS  # from one internal strain of an axis to its next


@part
def moisture_link(b: Floats, n: int, k: Floats) -> None:
    """Work out what moisture does: path, shrinkage, softness, and what its cycles take for good."""
    linear_from, linear_to = k[rows.LINEAR_FROM], k[rows.LINEAR_TO]
    release_from, release_per = k[rows.RELEASE_FROM], k[rows.RELEASE_PER]
    for j in range(n):
        share = b[rows.IMAGE_SHARE + j]
        psi = share * b[rows.PSI_IMAGE + j] + (1.0 - share) * b[rows.PSI_CORE + j]
        peak = max(b[rows.PEAK + j], psi)
        b[rows.PEAK + j] = peak
        b[rows.RELEASED + j] = min(max((peak - release_from) * release_per, 0.0), 1.0)
        b[rows.PATH + j] = humidity_path(psi, linear_from, linear_to, b[rows.OUTSIDE + j])
        b[rows.SOFT + j] = small_exp(-b[rows.SOFTEN + j] * (psi - 0.5))
        moved = moved_play(b[rows.PLAY + j], psi, b[rows.DEADBAND + j])
        cycled = 1.0 - small_exp(-b[rows.SORPTIVE + j] * abs(moved - b[rows.PLAY + j]))
        b[rows.PLAY + j] = moved
        b[rows.LOSS_MD + j] += cycled * max(b[rows.ABOVE_MD + j], 0.0)
        b[rows.LOSS_CD + j] += cycled * max(b[rows.ABOVE_CD + j], 0.0)


@part
def creep_link(b: Floats, n: int, k: Floats) -> None:
    """Take what creeping hinges give way, for good, and sum it over the last week or so."""
    week = k[rows.WEEK_DECAY]
    for j in range(n):
        soft = b[rows.SOFT + j]
        md = b[rows.GAIN_MD + j] * max(b[rows.ABOVE_MD + j], 0.0) * soft
        cd = b[rows.GAIN_CD + j] * max(b[rows.ABOVE_CD + j], 0.0) * soft
        crept_md = bled_off(md, b[rows.SUSTAIN_MD + j], b[rows.CREEP_MD + j])
        crept_cd = bled_off(cd, b[rows.SUSTAIN_CD + j], b[rows.CREEP_CD + j])
        b[rows.CREEP_LOST_MD + j] += crept_md
        b[rows.CREEP_LOST_CD + j] += crept_cd
        b[rows.WEEK_LOST + j] = b[rows.WEEK_LOST + j] * week + max(crept_md, crept_cd)


@written_out
def axis_link(b: Floats, n: int, k: Floats, axis: int) -> None:
    """Imposed strain of an axis, less what was lost for good, and its relaxation.

    ``axis`` is 0 along the grain, `rows.ACROSS` across it.
    """
    weights, decay = rows.six(k, rows.PRONY_K, 1), rows.six(k, rows.PRONY_DECAY, 1)
    first, last = rows.six(k, rows.PRONY_BEGIN, 1), rows.six(k, rows.PRONY_END, 1)
    for j in range(n):
        a = axis + j
        imposed = (
            b[rows.START_MD + a]
            - b[rows.BETA_MD + a] * b[rows.PATH + j]
            + b[rows.PANEL_MD + a] * b[rows.PSI_PANEL + j]
            + b[rows.ALPHA_MD + a] * b[rows.TEMP_C + j]
            + b[rows.SHRINK_MD + a] * b[rows.RELEASED + j]
            - b[rows.LOSS_MD + a]
            - b[rows.CREEP_LOST_MD + a]
        )
        mat, m, zero = b[rows.MAT_MD + a], b[rows.RELAX_M + j], b[rows.ZERO_GAIN + j]
        inner, gain = rows.six(b, rows.V_MD + a, APART), b[rows.MAT_GAIN_MD + a]
        above, mat, v = relaxed(imposed, mat, m, zero, gain, inner, weights, decay, first, last)
        b[rows.ABOVE_MD + a], b[rows.MAT_MD + a] = above, mat
        b[rows.V_MD + a], b[rows.V_MD + APART + a] = v[0], v[1]
        b[rows.V_MD + 2 * APART + a], b[rows.V_MD + 3 * APART + a] = v[2], v[3]
        b[rows.V_MD + 4 * APART + a], b[rows.V_MD + 5 * APART + a] = v[4], v[5]


@part
def tension_link(b: Floats, n: int, k: Floats) -> None:
    """Both axes."""
    axis_link(b, n, k, 0)
    axis_link(b, n, k, rows.ACROSS)
