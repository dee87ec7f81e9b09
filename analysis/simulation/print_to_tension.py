"""Links of the loop from the moisture of print and panel to what is left of each axis's stretch.

As in `analysis.simulation.room_to_print`, each takes one block of draws through one hour.
"""

from analysis.chain.compiled import part, written_out
from analysis.chain.isotherm import small_exp
from analysis.chain.sheet import humidity_path
from analysis.chain.tension import bled_off, moved_play, relaxed
from analysis.results import Floats
from analysis.simulation.layout import ACROSS, Hour, Row, Shared, six

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
        b[Row.CYCLED + j] = 1.0 - small_exp(-b[Row.SORPTIVE + j] * abs(moved - b[Row.PLAY + j]))
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
        b[Row.WEEK_LOST + j] = b[Row.WEEK_LOST + j] * week + max(crept_md, crept_cd)


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
