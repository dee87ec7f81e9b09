"""A scheduler in this process, and workers of this machine in processes of their own."""

import contextlib
import os
import signal
import subprocess
import sys
import tempfile

from distributed import LocalCluster

# A worker has one core: the loop over works would take all of them. Its notes are not for people.
ONE_CORE = {"NUMBA_NUM_THREADS": "1", "DASK_LOGGING__DISTRIBUTED": "warning"}
PROGRAM = ("-m", "distributed.cli.dask_worker", "--no-dashboard")
THIS_MACHINE = "127.0.0.1"
END_S = 2.0
ALONE_S = 60  # after which workers end whose scheduler is gone


class OwnWorkers:
    """Workers that begin and end with whoever asks them; one that dies is replaced.

    They are begun as a program of their own: what `multiprocessing` starts would first run the
    program that asks, from its beginning.
    """

    def __init__(self, count: int, environment: dict[str, str] | None = None) -> None:
        self.scheduler = LocalCluster(
            n_workers=0, host=THIS_MACHINE, dashboard_address=f"{THIS_MACHINE}:0"
        )
        self._folder = tempfile.TemporaryDirectory(prefix="stilltaut-workers-")
        asked = {
            "nworkers": count,
            "nthreads": 1,
            "memory-limit": 0,
            "host": THIS_MACHINE,
            "death-timeout": ALONE_S,
            "local-directory": self._folder.name,
        }
        options = [f"--{name}={value}" for name, value in asked.items()]
        self._workers = subprocess.Popen(
            [sys.executable, *PROGRAM, self.address, *options],
            env={**os.environ, **ONE_CORE, **(environment or {})},
            stdout=subprocess.DEVNULL,
            start_new_session=True,  # what is typed to end the one who asks is not for them
        )

    @property
    def address(self) -> str:
        """The scheduler's address."""
        return str(self.scheduler.scheduler_address)

    def close(self) -> None:
        """End them: what they keep is written whole or not at all."""
        self._workers.terminate()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._workers.wait(END_S)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self._workers.pid, signal.SIGKILL)
        self._workers.wait()
        self.scheduler.close()
        self._folder.cleanup()
