"""One work's journey: out in a crate, eight weeks in another house, and back in the crate.

The logger in the crate ran on the way out and was taken out there; nobody put one in for the way
back, and the crate was opened on the day it came home.
"""

import numpy as np
import pandas as pd

WORK = "2007-02"
BORROWER, BORROWER_NAME, BORROWER_ZONE = "pond", "House by the Pond", "Europe/Vienna"
HALL, HALL_NAME = "pond-hall", "Pond Hall"
CRATE, CRATE_NAME = "crate-2", "Crate 2"
PACKED, LEFT = "2025-10-06T09:00Z", "2025-10-06T14:00Z"
ARRIVED, OPENED, UNPACKED = "2025-10-07T11:00Z", "2025-10-08T13:00Z", "2025-10-08T15:00Z"
PACKED_BACK, LEFT_BACK = "2025-12-01T09:00Z", "2025-12-01T11:00Z"
ARRIVED_BACK, OPENED_BACK = "2025-12-02T10:00Z", "2025-12-02T16:00Z"
UNPACKED_BACK = "2025-12-03T09:00Z"


def air_away(times: pd.DatetimeIndex, home: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """Return the air of the hall and of the crate; the crate begins with that of home.

    Parameters
    ----------
    home : pandas.DataFrame
        The air of the room in which the work was packed, at the same times.
    """
    day = ((times - times[0]) / pd.Timedelta("1D")).to_numpy(float)
    hall = pd.DataFrame(
        {
            "temp_c": 20.5 + 0.5 * np.sin(2 * np.pi * day) + 0.4 * np.sin(2 * np.pi * day / 8.3),
            "rh_pct": 59.0
            + 4.5 * np.sin(2 * np.pi * day / 9.1)
            + 1.5 * np.sin(2 * np.pi * day + 1.0),
        },
        index=times,
    )
    since_h = ((times - pd.Timestamp(LEFT)) / pd.Timedelta("1h")).to_numpy(float)
    share = 1.0 - np.exp(-np.clip(since_h, 0.0, None) / 14.0)
    on_the_road = 9.0 + 3.0 * np.sin(2 * np.pi * day)
    lorry = since_h < (pd.Timestamp(ARRIVED) - pd.Timestamp(LEFT)) / pd.Timedelta("1h")
    around_c = np.where(lorry, on_the_road, hall["temp_c"])
    around_pct = np.where(lorry, 57.0, hall["rh_pct"])
    crate = pd.DataFrame(
        {
            "temp_c": home["temp_c"] + share * (around_c - home["temp_c"]),
            "rh_pct": home["rh_pct"] + share * (around_pct - home["rh_pct"]),
        },
        index=times,
    )
    return {HALL: hall, CRATE: crate}
