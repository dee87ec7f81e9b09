"""The inks and the paper, by name: the one list of colours for charts, marks and pages.

The four inks of the states differ in lightness as well as in hue, so that they can be told apart
in a grey print and with any colour vision; a test checks both. The word stands beside the mark
all the same.
"""

from collections.abc import Mapping

PAPER = "#faf6ee"
INK = "#26221d"
SOFT = "#6a635a"  # labels, scales
HAIR = "#d9d1c3"  # hairlines
WASH = "#ebe4d3"  # an agreed band
FELT = "#c9c0ae"  # what the frames felt

GREY = "#66615a"
OCHRE = "#b5811a"
MADDER = "#981f34"
INDIGO = "#141c52"
SEA = "#2f6f7e"  # water in the air: dew point

# Names of the same colours as variables of app.css, which has a second set for a dark gallery.
VARIABLES: Mapping[str, str] = {
    PAPER: "--paper",
    INK: "--ink",
    SOFT: "--soft",
    HAIR: "--hair",
    WASH: "--wash",
    FELT: "--felt",
    GREY: "--grey",
    OCHRE: "--ochre",
    MADDER: "--madder",
    INDIGO: "--indigo",
    SEA: "--sea",
}
STATE_INKS: Mapping[str, str] = {
    "grey": GREY,
    "ochre": OCHRE,
    "madder": MADDER,
    "indigo": INDIGO,
}
