"""Starts the parts of the server as processes, restarts those that die, and stops them all together."""

import contextlib
import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

GRACE_S = 4.0
PAUSES_S = (1.0, 2.0, 4.0)  # before the first, second and third restart; then the server gives up
STEADY_S = 600.0  # a part that ran this long may be restarted three times again
TICK_S = 0.1

Say = Callable[[str], None]


@dataclass
class Part:
    """One process of the server and what became of it."""

    name: str
    command: Sequence[str]
    descriptors: Sequence[int] = ()
    process: subprocess.Popen[bytes] | None = None
    began_at: float = 0.0
    restarts: int = 0
    due_at: float | None = None


@dataclass
class Parts:
    """All processes of one server. `descriptors` are inherited by each; times are seconds of the monotonic clock."""

    descriptors: Sequence[int]
    env: dict[str, str]
    say: Say
    parts: list[Part] = field(default_factory=list)

    def start(self, name: str, command: Sequence[str], descriptors: Sequence[int] = ()) -> None:
        """Start one part; `descriptors` are what it inherits beside what all do."""
        part = Part(name, command, descriptors)
        self.parts.append(part)
        self._begin(part)

    def _begin(self, part: Part) -> None:
        part.due_at = None
        part.began_at = time.monotonic()
        # A process group of its own keeps Ctrl-C away from the part, which is stopped in order instead; no new
        # session, so that closing the terminal still reaches it.
        part.process = subprocess.Popen(
            part.command,
            stdin=subprocess.DEVNULL,
            pass_fds=(*self.descriptors, *part.descriptors),
            process_group=0,
            env=self.env,
        )

    def tend(self) -> bool:
        """Look once after each part; False when one has died too often and the server must stop."""
        now = time.monotonic()
        for part in self.parts:
            if part.due_at is not None:
                if now >= part.due_at:
                    self._begin(part)
            elif part.process is not None and part.process.poll() is not None and not self._plan_restart(part, now):
                return False
        return True

    def _plan_restart(self, part: Part, now: float) -> bool:
        assert part.process is not None
        how = _how_it_ended(part.process.returncode)
        _kill_group(part.process.pid)
        if now - part.began_at >= STEADY_S:
            part.restarts = 0
        if part.restarts >= len(PAUSES_S):
            self.say(f"{part.name} {how} again after {part.restarts} restarts: stopping")
            return False
        pause = PAUSES_S[part.restarts]
        part.restarts += 1
        part.due_at = now + pause
        self.say(f"{part.name} {how}; started again in {pause:g} s")
        return True

    def stop(self) -> None:
        """SIGTERM to all, then SIGKILL to what is left after the grace period."""
        running = [(part, part.process) for part in self.parts if part.process and part.process.poll() is None]
        for _, process in running:
            process.terminate()
        end = time.monotonic() + GRACE_S
        for part, process in running:
            try:
                process.wait(max(0.01, end - time.monotonic()))
            except subprocess.TimeoutExpired:
                self.say(f"{part.name} did not stop within {GRACE_S:g} s: killed")
            _kill_group(process.pid)
            process.wait()


def _how_it_ended(code: int) -> str:
    return f"was ended by {signal.Signals(-code).name}" if code < 0 else f"ended with code {code}"


def _kill_group(leader: int) -> None:
    """Whatever the part started itself goes with it."""
    with contextlib.suppress(ProcessLookupError):
        os.killpg(leader, signal.SIGKILL)


class StopAsked:
    """Becomes true on the first SIGINT, SIGTERM or SIGHUP after `listen`."""

    def __init__(self) -> None:
        self.asked = False
        self._interrupts = False

    def __bool__(self) -> bool:
        return self.asked

    def _note(self, number: int, frame: object) -> None:
        self.asked = True
        if self._interrupts:
            raise KeyboardInterrupt

    @contextlib.contextmanager
    def at_once(self) -> Iterator[None]:
        """Inside, being asked to stop raises `KeyboardInterrupt` instead of waiting to be looked at."""
        self._interrupts = True
        try:
            if self.asked:
                raise KeyboardInterrupt
            yield
        finally:
            self._interrupts = False

    def listen(self) -> None:
        # A shell that starts us in the background has SIGINT ignored from birth: handlers are set all the same.
        signal.signal(signal.SIGINT, self._note)
        signal.signal(signal.SIGTERM, self._note)
        # Whoever started us under nohup wants to close the terminal.
        if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
            signal.signal(signal.SIGHUP, self._note)


def watch(parts: Parts, stop: StopAsked, each_tick: Callable[[], None]) -> int:
    """Tend the parts until someone asks to stop or one dies too often; returns the exit code."""
    while not stop:
        if not parts.tend():
            return 1
        each_tick()
        time.sleep(TICK_S)
    return 0
