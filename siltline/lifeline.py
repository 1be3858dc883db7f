"""A child ends when the supervisor does, however that ended: only the supervisor holds the other end of the pipe."""

import os
import signal
import threading
import time

GRACE_S = 4.0


def hold(descriptor: int) -> None:
    """Watch the read end `descriptor`; when every write end is closed, stop this process, by force after 4 s."""

    def watch() -> None:
        while os.read(descriptor, 1):
            pass
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(GRACE_S)
        os._exit(1)

    threading.Thread(target=watch, name="lifeline", daemon=True).start()
