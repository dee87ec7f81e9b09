"""A thread that empties the outbox while the pages are served."""

import logging
import threading

from service.errors import StoreError
from service.notices.sending import MailServer, send_due
from service.storage.register import Register

log = logging.getLogger(__name__)


class Courier:
    """Looks into the outbox now and then, and whenever it is called.

    Parameters
    ----------
    register : Register
        Where the outbox is.
    server : MailServer
        Where the letters go.
    every_s : float
        Pause between looks; letters that wait have pauses of their own [s].
    """

    def __init__(self, register: Register, server: MailServer, every_s: float = 30.0) -> None:
        self._register, self._server, self._every_s = register, server, every_s
        self._wake = threading.Event()
        self._stopping = False
        self._thread = threading.Thread(target=self._run, name="courier", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def call(self) -> None:
        """Look into the outbox now."""
        self._wake.set()

    def stop(self) -> None:
        """Finish the letter in hand and stop."""
        self._stopping = True
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join()

    def _run(self) -> None:
        while not self._stopping:
            self._wake.clear()
            try:
                outcome = send_due(self._register, self._server)
            except StoreError:
                log.exception("the outbox could not be read; it is tried again")
            else:
                if outcome.last_error:
                    log.warning("%d letters wait: %s", outcome.waiting, outcome.last_error)
            self._wake.wait(self._every_s)
