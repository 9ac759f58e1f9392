"""A limit of time on reading one file, so that none keeps the others waiting."""

import threading
import time
from collections.abc import Generator
from contextlib import contextmanager, suppress

_AGAIN = 0.5  # seconds after which the end is told again: where Python drops errors, one may have been lost
_PATIENCE = 6  # how many times as long may go by where others keep the machine busy


class TimeUp(BaseException):
    """What was begun takes too long. No Exception, so that nothing on the way takes it for a mistake of a file."""


class Allowance:
    """So many seconds of this program's work, however slow a busy machine is at it, within six times as long."""

    def __init__(self, seconds: float) -> None:
        self._worked, self._gone = time.process_time() + seconds, time.monotonic() + seconds * _PATIENCE

    @property
    def left(self) -> float:
        """How many seconds are left at least; below 0 when they are over."""
        return min(self._worked - time.process_time(), self._gone - time.monotonic())


@contextmanager
def within(seconds: float) -> Generator[None]:
    """Raise TimeUp in what is done here when so many seconds of work are over, wherever it is; in any thread, on any
    system.
    """
    over, lock, late = threading.Event(), threading.Lock(), [False]
    worker, allowed = threading.get_ident(), Allowance(seconds)

    def watch() -> None:
        while not over.wait(max(_AGAIN, allowed.left)):
            with lock:
                if not over.is_set() and allowed.left <= 0:
                    late[0] = True
                    _raise_in(worker, TimeUp)

    threading.Thread(target=watch, daemon=True).start()
    try:
        yield
    finally:
        try:
            with lock:
                over.set()
        finally:  # the error may be met on the way here, too
            over.set()
        if late[0]:
            _hear_out(worker)
    if late[0]:  # told too late to be heard
        raise TimeUp


def _hear_out(worker: int) -> None:
    """Leave no error behind that this thread was told of and has not met.

    Another takes its place and is met here: one that is taken back keeps an interpreter that traces in a loop.
    """
    with suppress(TimeUp):
        _raise_in(worker, TimeUp)
        while True:
            time.sleep(0)


def _raise_in(worker: int, error: type[BaseException]) -> None:
    """Let a thread meet an error before its next step, in the place of one that it has not met yet."""
    import ctypes  # only for files that take too long

    ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(worker), ctypes.py_object(error))
