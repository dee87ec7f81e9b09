"""Links of the loop from the moisture of print and panel to what is left of each axis's stretch.

As in `analysis.simulation.room_to_print`, each takes one block of draws through one hour.
"""

from analysis.chain.compiled import part, written_out
from analysis.chain.isotherm import small_exp
from analysis.chain.sheet import humidity_path
from analysis.chain.tension import bled_off, moved_play, relaxed
from analysis.results import Floats
from analysis.simulation.layout import ACROSS, Row, Shared, six

APART = 2 * ACROSS  # from one internal strain of an axis to its next


@part
def moisture_link(b: Floats, n: int, k: Floats) -> None:
    """Work out what moisture does: path, shrinkage, softness, and what its cycles take for good."""
    linear_from, linear_to = k[Shared.LINEAR_FROM], k[Shared.LINEAR_TO]
    release_from, release_per = k[Shared.RELEASE_FROM], k[Shared.RELEASE_PER]
    for j in range(n):
        # psi of the print: image layer and body by their shares; soft = exp(-soften (psi - 0.5));
        # lost to cycles: (1 - exp(-sorptive |moved play|)) of what is above zero tension
        share = b[Row.IMAGE_SHARE + j]
        psi = share * b[Row.PSI_IMAGE + j] + (1.0 - share) * b[Row.PSI_CORE + j]
        peak = max(b[Row.PEAK + j], psi)
        b[Row.PEAK + j] = peak
        b[Row.RELEASED + j] = min(max((peak - release_from) * release_per, 0.0), 1.0)
        b[Row.PATH + j] = humidity_path(psi, linear_from, linear_to, b[Row.OUTSIDE + j])
        b[Row.SOFT + j] = small_exp(-b[Row.SOFTEN + j] * (psi - 0.5))
        moved = moved_play(b[Row.PLAY + j], psi, b[Row.DEADBAND + j])
        cycled = 1.0 - small_exp(-b[Row.SORPTIVE + j] * abs(moved - b[Row.PLAY + j]))
        b[Row.PLAY + j] = moved
        b[Row.LOSS_MD + j] += cycled * max(b[Row.ABOVE_MD + j], 0.0)
        b[Row.LOSS_CD + j] += cycled * max(b[Row.ABOVE_CD + j], 0.0)


@part
def creep_link(b: Floats, n: int, k: Floats) -> None:
    """Take what creeping hinges give way, for good, and sum it over the last week or so."""
    week = k[Shared.WEEK_DECAY]
    for j in range(n):
        # N/EA = gain · above · soft; what exceeds the sustained N/EA bleeds off
        soft = b[Row.SOFT + j]
        md = b[Row.GAIN_MD + j] * max(b[Row.ABOVE_MD + j], 0.0) * soft
        cd = b[Row.GAIN_CD + j] * max(b[Row.ABOVE_CD + j], 0.0) * soft
        crept_md = bled_off(md, b[Row.SUSTAIN_MD + j], b[Row.CREEP_MD + j])
        crept_cd = bled_off(cd, b[Row.SUSTAIN_CD + j], b[Row.CREEP_CD + j])
        b[Row.CREEP_LOST_MD + j] += crept_md
        b[Row.CREEP_LOST_CD + j] += crept_cd
        b[Row.WEEK_LOST + j] = b[Row.WEEK_LOST + j] * week + max(crept_md, crept_cd)


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
        # above = e - e_zero; e_mat = e_zero + f max(above, 0); v_i follow e_mat
        mat, m, zero = b[Row.MAT_MD + a], b[Row.RELAX_M + j], b[Row.ZERO_GAIN + j]
        inner, gain = six(b, Row.V_MD_0 + a, APART), b[Row.MAT_GAIN_MD + a]
        above, mat, v = relaxed(imposed, mat, m, zero, gain, inner, weights, decay, first, last)
        b[Row.ABOVE_MD + a], b[Row.MAT_MD + a] = above, mat
        b[Row.V_MD_0 + a], b[Row.V_MD_0 + APART + a] = v[0], v[1]
        b[Row.V_MD_0 + 2 * APART + a], b[Row.V_MD_0 + 3 * APART + a] = v[2], v[3]
        b[Row.V_MD_0 + 4 * APART + a], b[Row.V_MD_0 + 5 * APART + a] = v[4], v[5]


@part
def tension_link(b: Floats, n: int, k: Floats) -> None:
    """Both axes."""
    axis_link(b, n, k, 0)
    axis_link(b, n, k, ACROSS)
