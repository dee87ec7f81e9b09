"""Links of the loop from tension and slack to what shows: the draws' weights, and single draws.

As in `analysis.simulation.room_to_print`, each takes one block of draws through one hour.
"""

from analysis.chain.cockle import largest_slope_mrad, wave_height_m
from analysis.chain.compiled import part
from analysis.chain.headroom import headroom_down, headroom_up
from analysis.results import Floats
from analysis.simulation.layout import Detail, Row, Sum
from analysis.simulation.ranges import Counts, counted
from analysis.simulation.weeks import GIVING, NEAR, SEEN, Signs


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
        left_md = b[Row.SUSTAIN_MD + j] / b[Row.GAIN_MD + j] * hard - md
        left_cd = b[Row.SUSTAIN_CD + j] / b[Row.GAIN_CD + j] * hard - cd
        dry_md, dry_cd = b[Row.PER_DRY_MD + j], b[Row.PER_DRY_CD + j]
        # quick: the print alone moves, by beta per %RH; dry: the panel shrinks more than the print
        quick = headroom_up(md, cd, 100.0 / b[Row.BETA_MD + j], 100.0 / b[Row.BETA_CD + j])
        slipped = max(b[Row.CREEP_LOST_MD + j], b[Row.CREEP_LOST_CD + j])
        out[Detail.HEADROOM_QUICK_PCT, j] = counted(quick)
        out[Detail.HEADROOM_DRY_PCT, j] = counted(headroom_up(md, cd, dry_md, dry_cd))
        out[Detail.HINGE_SLIP_MM_M, j] = counted(1000.0 * slipped)
        out[Detail.HEADROOM_UP_PCT, j] = counted(headroom_up(md, cd, per_md, per_cd))
        out[Detail.HEADROOM_DOWN_PCT, j] = counted(headroom_down(left_md, left_cd, per_md, per_cd))
