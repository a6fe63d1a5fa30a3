"""Print what the sums cost: importing them, and microseconds per call of each.

    python -m tests.benchmarks.calc_bench

Each call is timed in batches and the quickest batch counts: the others were disturbed.
"""

import subprocess
import sys
import timeit
from time import perf_counter

from tests.calc.examples import EXAMPLES, modules, name

BATCHES, CALLS = 7, 200
STARTS = 7
MOST_US = 200.0  # per call, fits apart
MOST_IMPORT_S = 0.15


def start_s(program: str) -> float:
    """Seconds that a Python of its own takes to run a program, the quickest of a few."""
    times = []
    for _ in range(STARTS):
        begun = perf_counter()
        subprocess.run([sys.executable, "-c", program], check=True)
        times.append(perf_counter() - begun)
    return min(times)


def main() -> None:
    imports = ", ".join(module.__name__ for module in modules())
    import_s = start_s(f"import {imports}") - start_s("pass")
    print(f"importing the sums: {import_s:.3f} s (at most {MOST_IMPORT_S} s)\n")

    costs = {}
    for function, args in EXAMPLES:
        timer = timeit.Timer(lambda function=function, args=args: function(*args))  # type: ignore[misc]
        costs[name(function)] = min(timer.repeat(BATCHES, CALLS)) / CALLS * 1e6
    width = max(map(len, costs))
    for called, us in sorted(costs.items(), key=lambda cost: -cost[1]):
        print(f"{called:<{width}}  {us:8.2f} us{'  OVER' if us > MOST_US else ''}")


if __name__ == "__main__":
    main()
