"""The loop over works asked for by many threads at once, in the pool that bears it least.

Numba takes whichever pool it finds on a machine; its own ends the whole program when two callers
meet in it.
"""

import os
import subprocess
import sys
from pathlib import Path

SCRIPT = """
import threading
import numpy as np
from analysis.chain.compiled import compiled_parallel, threads_for
from numba import prange, threading_layer

@compiled_parallel("nothing")  # compiled where it is called
def long_sum(x):
    for i in prange(len(x)):
        total = 0.0
        for j in range(200000):
            total += np.sin(i + 1e-6 * j)
        x[i] = total
    return 0

arrays = [np.zeros(40) for _ in range(4)]
long_sum(np.zeros(1))
together = threading.Barrier(4)

def call(array, works):
    together.wait(20)
    with threads_for(works):
        long_sum(array)

threads = [threading.Thread(target=call, args=(array, i)) for i, array in enumerate(arrays)]
for thread in threads:
    thread.start()
for thread in threads:
    thread.join()
print(threading_layer(), all(np.array_equal(array, arrays[0]) for array in arrays))
"""


def test_two_callers_do_not_end_the_program(tmp_path: Path) -> None:
    script = tmp_path / "callers.py"
    script.write_text(SCRIPT, encoding="utf-8")
    ended = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, "NUMBA_THREADING_LAYER": "workqueue", "NUMBA_CACHE_DIR": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ended.returncode == 0, ended.stderr[-2000:]
    assert ended.stdout.split() == ["workqueue", "True"]
