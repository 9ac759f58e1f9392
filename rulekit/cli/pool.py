"""Work done over all cores, or over the workers of a scheduler. One process alone writes what stands on the disk."""

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from importlib import import_module
from multiprocessing import parent_process
from typing import Any, TypeVar

from rulekit.cli.telling import lacking
from rulekit.diagnostics import Diagnostic, RulekitError

_Job = TypeVar("_Job")
_Made = TypeVar("_Made")
Work = Callable[..., _Made | str]  # given a job and what all jobs share: what it made, or why there is nothing


def worked(
    work: Work[_Made], jobs: Sequence[Any], shared: tuple[Any, ...], scheduler: str | None = None
) -> Iterator[tuple[int, _Made | str]]:
    """The number of each job with what it made, as they are done; ``scheduler`` is the address of a Dask scheduler.

    Raises RulekitError if there is no such scheduler.
    """
    processes = min(_cores(), len(jobs))
    if scheduler is not None:
        yield from _distributed(work, jobs, shared, scheduler)
        return
    if processes < 2:
        yield from ((number, work(job, *shared)) for number, job in enumerate(jobs))
        return
    pool = ProcessPoolExecutor(processes, initializer=_prepare, initargs=(work, shared))
    try:
        waiting = {pool.submit(_work, job): number for number, job in enumerate(jobs)}
        for done in as_completed(waiting):
            yield waiting[done], _result(done)
    finally:
        pool.shutdown(cancel_futures=True)


def in_order(made: Iterator[tuple[int, _Made]]) -> Iterator[tuple[int, _Made]]:
    """What is made in the order of its jobs, each as soon as those before it are there."""
    waiting: dict[int, _Made] = {}
    wanted = 0
    for number, each in made:
        waiting[number] = each
        while wanted in waiting:
            yield wanted, waiting.pop(wanted)
            wanted += 1


def told(made: Iterator[tuple[int, _Made]], total: int, things: str) -> Iterator[tuple[int, _Made]]:
    """What is made, with a line on a terminal that says how far it has come."""
    telling = sys.stderr.isatty() and total > 1
    for count, each in enumerate(made, 1):
        yield each
        if telling:
            print(f"\r{count} of {total} {things}", end="\n" if count == total else "", file=sys.stderr, flush=True)


def _cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _result(done: Future[Any]) -> Any:
    if done.exception() is None:
        return done.result()
    return "a process was ended before this was done; run the same command again"


def _distributed(
    work: Work[_Made], jobs: Sequence[Any], shared: tuple[Any, ...], scheduler: str
) -> Iterator[tuple[int, _Made | str]]:
    try:
        dask = import_module("distributed")
        client = dask.Client(scheduler, timeout=10)
    except ImportError as error:
        wrong = lacking("distributed", "distributed")
        raise RulekitError([Diagnostic(scheduler, 1, 1, 1, wrong)]) from error
    except (OSError, ValueError) as error:
        raise RulekitError([Diagnostic(scheduler, 1, 1, 1, "there is no scheduler at this address")]) from error
    with client:
        everywhere = client.scatter(list(shared), broadcast=True)
        waiting = {client.submit(work, job, *everywhere, pure=False): number for number, job in enumerate(jobs)}
        for done in dask.as_completed(list(waiting)):
            yield waiting[done], _result(done)


# ---- in a process of the pool ------------------------------------------------------------------

_shared: list[tuple[Work[Any], tuple[Any, ...]]] = []


def _prepare(work: Work[Any], shared: tuple[Any, ...]) -> None:
    """Keep what all jobs share; end at once when interrupted, and when the process that asked has ended."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _shared[:] = [(work, shared)]


def _end_with_parent() -> None:
    parent = parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)


def _work(job: Any) -> Any:
    work, shared = _shared[0]
    return work(job, *shared)
