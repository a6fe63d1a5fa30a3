"""Property strategies for the sums: values a job could hold."""

from hypothesis import strategies as st

from assistant.calc.taper import Taper
from assistant.calc.tolerance import Tolerance
from assistant.quantity import Angle, Expansion, Length, SpindleSpeed, TemperatureRise


def lengths(least_mm: float, most_mm: float) -> st.SearchStrategy[Length]:
    return st.floats(least_mm, most_mm).map(Length)


ball_lengths = lengths(20.0, 2000.0)
diameters = lengths(3.0, 300.0)
balls = lengths(1.5, 25.4)
pitches = lengths(0.2, 6.0)
offsets = lengths(-60.0, 60.0)  # set-over to either side

half_angles = st.floats(1e-4, 0.7).map(Angle)  # 0.3 minutes of arc to 40 degrees
tapers = half_angles.map(Taper)

rises = st.floats(-30.0, 60.0).map(TemperatureRise)
expansions = st.floats(5.0, 25.0).map(Expansion)
spindle_speeds = st.floats(20.0, 2000.0).map(SpindleSpeed)
tolerances = st.floats(1e-5, 1e-2).map(Angle).map(Tolerance)
standards = lengths(1e-4, 0.02)  # standard uncertainties of shop instruments
