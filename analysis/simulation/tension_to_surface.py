"""Links of the loop from tension and slack to what shows: the draws' weights, and single draws.

As in `analysis.simulation.room_to_print`, each takes one block of draws through one hour.
"""

from analysis.chain.cockle import largest_slope_mrad, wave_height_m
from analysis.chain.compiled import part
from analysis.chain.headroom import headroom_down, headroom_up
from analysis.results import Floats
from analysis.simulation import rows
from analysis.simulation.ranges import Counts, counted
from analysis.simulation.weeks import GIVING, NEAR, SEEN, Signs


@part
def surface_link(b: Floats, n: int, sums: Floats, signs: Signs) -> None:
    """Add the weights of the draws that are slack, seen, near the glazing, their hinges giving way.

    ``signs``, shape (n,), has the last three draw by draw.
    """
    slack_p, visible_p, contact_p, hinges_p = 0.0, 0.0, 0.0, 0.0
    for j in range(n):
        weight = b[rows.WEIGHT + j]
        slack = max(-b[rows.ABOVE_MD + j], -b[rows.ABOVE_CD + j]) - b[rows.BUCKLE + j]
        seen, near = slack > b[rows.SLACK_VISIBLE + j], slack > b[rows.SLACK_CONTACT + j]
        load_md = b[rows.LOAD_MD + j] * b[rows.ABOVE_MD + j]
        load_cd = b[rows.LOAD_CD + j] * b[rows.ABOVE_CD + j]
        load = max(load_md, load_cd) * b[rows.SOFT + j]
        b[rows.OVERLOAD + j] = max(b[rows.OVERLOAD + j], load)
        giving = max(load - 1.0, b[rows.WEEK_LOST + j] - b[rows.WEEK_LIMIT + j]) > 0.0
        slack_p += weight if slack > 0.0 else 0.0
        visible_p += weight if seen else 0.0
        contact_p += weight if near else 0.0
        hinges_p += weight if giving else 0.0
        signs[j] = (SEEN if seen else 0) | (NEAR if near else 0) | (GIVING if giving else 0)
    sums[0] += slack_p
    sums[1] += visible_p
    sums[2] += contact_p
    sums[3] += hinges_p


@part
def doubts_link(b: Floats, n: int, sums: Floats) -> None:
    """Add what may make an hour's numbers be refused: mean band, draws where no model holds."""
    band, above_85, wet, temperature = 0.0, 0.0, 0.0, 0.0
    for j in range(n):
        weight, temp = b[rows.WEIGHT + j], b[rows.TEMP_C + j]
        band += weight * b[rows.BAND_PRINT + j]
        above_85 += weight if b[rows.PSI_CORE + j] * b[rows.SHIFT + j] > 0.85 else 0.0
        wet += weight * b[rows.CONDENSING + j]
        temperature += weight if abs(temp - 20.0) > 20.0 else 0.0
    sums[4] += band
    sums[5] += above_85
    sums[6] += wet
    sums[7] += temperature


@part
def detail_link(b: Floats, n: int, out: Counts) -> None:
    """Write what the ranges are taken from, counted: the first rows of shape (DETAIL, n)."""
    for j in range(n):
        shift, share = b[rows.SHIFT + j], b[rows.IMAGE_SHARE + j]
        psi = share * b[rows.PSI_IMAGE + j] + (1.0 - share) * b[rows.PSI_CORE + j]
        md, cd = b[rows.ABOVE_MD + j], b[rows.ABOVE_CD + j]
        slack = max(max(-md, -cd) - b[rows.BUCKLE + j], 0.0)
        load_md = b[rows.EA_MD + j] * b[rows.GAIN_MD + j] * max(md, 0.0)
        load_cd = b[rows.EA_CD + j] * b[rows.GAIN_CD + j] * max(cd, 0.0)
        out[0, j] = counted(100.0 * b[rows.PSI_FRAME + j] * shift)
        out[1, j] = counted(100.0 * psi * shift)
        out[2, j] = counted(min(load_md, load_cd) * b[rows.SOFT + j])
        out[3, j] = counted(largest_slope_mrad(slack))
        out[4, j] = counted(1000.0 * wave_height_m(slack, b[rows.WAVELENGTH + j]))


@part
def headroom_link(b: Floats, n: int, out: Counts) -> None:
    """Write the headroom up and down, counted: the last two rows."""
    for j in range(n):
        md, cd = b[rows.ABOVE_MD + j], b[rows.ABOVE_CD + j]
        per_md, per_cd = b[rows.PER_RH_MD + j], b[rows.PER_RH_CD + j]
        hard = 1.0 / b[rows.SOFT + j]
        left_md = b[rows.SUSTAIN_MD + j] / b[rows.GAIN_MD + j] * hard - md
        left_cd = b[rows.SUSTAIN_CD + j] / b[rows.GAIN_CD + j] * hard - cd
        out[5, j] = counted(headroom_up(md, cd, per_md, per_cd))
        out[6, j] = counted(headroom_down(left_md, left_cd, per_md, per_cd))
