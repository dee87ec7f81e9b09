"""Speed of a million dew points, against the bare splines and against the scalar library."""

import numpy as np

from analysis.air.moist_air import dew_point_c, over_water, psychrolib
from bench.reading import best

MANY, SOME = 1_000_000, 2_000


def run() -> list[str]:
    """Return the lines of the report."""
    rng = np.random.default_rng(1)
    temp, rh = rng.uniform(10, 30, MANY), rng.uniform(20, 90, MANY)
    curve = over_water()
    bare = best(lambda: curve.temperature(curve.log_pressure(temp) + np.log(rh / 100.0)))
    ours = best(lambda: dew_point_c(temp, rh))
    pairs = list(zip(temp[:SOME].tolist(), (rh[:SOME] / 100).tolist(), strict=True))
    scalar = best(lambda: [psychrolib.GetTDewPointFromRelHum(t, r) for t, r in pairs])
    whole = scalar * MANY / SOME
    return [
        f"dew points, {MANY:,}: {ours:.3f} s, bare splines {bare:.3f} s, "
        f"ratio {ours / bare:.2f} (wanted: at most 1.5)",
        f"dew points, the library one by one: {whole:.1f} s a million, {whole / ours:.0f} times",
    ]


if __name__ == "__main__":
    print("\n".join(run()))
