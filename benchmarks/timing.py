"""The shortest of several runs: what others did on the machine only ever adds to a run."""

from __future__ import annotations

import time
from collections.abc import Callable


def best(run: Callable[[], object], times: int = 5, *, clock: Callable[[], float] = time.perf_counter) -> float:
    """Shortest of several runs. [s]

    Parameters
    ----------
    run : what is timed
    times : how often it is run
    clock : wall time, or `time.process_time` for that of all threads together
    """
    taken = []
    for _ in range(times):
        start = clock()
        run()
        taken.append(clock() - start)
    return min(taken)
