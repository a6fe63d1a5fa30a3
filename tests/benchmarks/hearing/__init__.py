"""How well people and voices are heard: `python -m tests.benchmarks.hearing --help`."""
