"""The sums of the job: pure functions on frozen quantities, no I/O, no rounding.

`from assistant.calc import taper, setover, ...`; each module opens with what it is for.
"""
