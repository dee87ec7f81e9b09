"""Humidity over saturated salt solutions: the fixed points for checking a sensor."""

from enum import StrEnum

from analysis.errors import OutOfRangeError
from analysis.parameters import table

COLDEST_C, WARMEST_C = 15.0, 30.0
EQUILIBRATION_NOTE = "Allow about 20 minutes for a small sensor, an hour for a bulky one."


class Salt(StrEnum):
    """Salts with a fixed point, from dry to damp."""

    LITHIUM_CHLORIDE = "lithium chloride"
    MAGNESIUM_CHLORIDE = "magnesium chloride"
    POTASSIUM_CARBONATE = "potassium carbonate"
    MAGNESIUM_NITRATE = "magnesium nitrate"
    SODIUM_BROMIDE = "sodium bromide"
    SODIUM_CHLORIDE = "sodium chloride"
    POTASSIUM_CHLORIDE = "potassium chloride"
    POTASSIUM_SULPHATE = "potassium sulphate"

    @property
    def group(self) -> str:
        """Name of the salt in ``published/salts.toml``."""
        return self.value.replace(" ", "_")


def fixed_point_rh_pct(salt: Salt, temp_c: float) -> float:
    """Return the humidity over a saturated solution [%RH].

    Parameters
    ----------
    salt : Salt
        Salt of the solution, with undissolved crystals in it.
    temp_c : float
        Temperature of solution and air, 15 to 30 °C [°C].

    References
    ----------
    Greenspan1977.

    Examples
    --------
    >>> round(fixed_point_rh_pct(Salt.MAGNESIUM_CHLORIDE, 20.0), 2)
    33.07
    """
    if not COLDEST_C <= temp_c <= WARMEST_C:
        raise OutOfRangeError(
            read=f"fixed point of {salt.value}",
            where="temperature",
            found=f"{temp_c:g} °C",
            expected=f"{COLDEST_C:g} to {WARMEST_C:g} °C",
            action="Check the sensor at room temperature.",
        )
    c = {name: row.value for name, row in table("salts")[salt.group].items()}
    # Greenspan1977: polynomial in °C
    return c["constant"] + temp_c * (c["linear"] + temp_c * (c["square"] + temp_c * c["cubic"]))


def fixed_point_uncertainty_rh_pct(salt: Salt) -> float:
    """Return the uncertainty of the fixed point, an order of magnitude [%RH]."""
    return table("salts")[salt.group]["uncertainty"].value
