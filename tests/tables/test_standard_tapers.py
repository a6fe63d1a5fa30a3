"""The standard tapers: every row's rate against its own diameters, and what is refused."""

import math
import subprocess
import sys

import pytest

from assistant.calc import taper
from assistant.errors import UnknownName
from assistant.quantity import Length
from assistant.tables.standard_tapers import StandardTaper, find, sizes, systems

ALL = [find(system, size) for system in systems() for size in sizes(system)]
BY_TWO_DIAMETERS = [one for one in ALL if one.gauge_diameter and one.small_end and one.length]

# A rate that differs by no more is printed to fewer figures than its diameters give.
AGREES_IN_PER_FOOT = 0.0001


def name(one: StandardTaper) -> str:
    return f"{one.system} {one.size}"


def per_foot_of_diameters(one: StandardTaper) -> float:
    assert one.gauge_diameter
    assert one.small_end
    assert one.length
    return taper.from_diameters(one.gauge_diameter, one.small_end, one.length).per_foot.inches


def test_the_tapers_whose_diameters_give_another_rate_are_the_known_ones() -> None:
    disagreeing = {
        name(one): round(per_foot_of_diameters(one), 5)
        for one in BY_TWO_DIAMETERS
        if abs(per_foot_of_diameters(one) - one.taper.per_foot.inches) > AGREES_IN_PER_FOOT
    }
    # Brown & Sharpe: large ends printed to four decimals. Metric 4: its small end, from
    # memory, should be 2.85 mm for its length. Worked apart with mpmath, 30 digits.
    assert disagreeing == {
        "metric 4": 0.57391,
        "brown and sharpe 4": 0.50276,
        "brown and sharpe 5": 0.50146,
        "brown and sharpe 7": 0.50129,
    }
    # Morse, metric, Brown & Sharpe, Jacobs and Jarno: nothing was left unchecked.
    assert len(BY_TWO_DIAMETERS) == 9 + 7 + 16 + 9 + 19


def test_every_size_of_every_system_is_listed() -> None:
    assert {system: sizes(system) for system in systems()} == {
        "morse": ("0", "1", "2", "3", "4", "4-1/2", "5", "6", "7"),
        "metric": ("4", "6", "80", "100", "120", "160", "200"),
        "brown and sharpe": tuple(str(number) for number in range(1, 17)),
        "jacobs": ("0", "1", "2", "2 short", "3", "4", "5", "6", "33"),
        "steep": ("10", "20", "25", "30", "35", "40", "45", "50", "60"),
        "metric pin": (
            *("0.6", "0.8", "1", "1.2", "1.5", "2", "2.5"),
            *(str(mm) for mm in (3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 30, 40, 50)),
        ),
        "inch pin": (
            *(f"{noughts}/0" for noughts in range(7, 1, -1)),
            *(str(number) for number in range(15)),
        ),
        "pipe": ("1:16",),
        "bearing bore": ("1:12", "1:30"),
        "cone series": (
            *(f"1:{n}" for n in (3, 4, 5, 6, 7, 8, 10, 12, 15, 20, 30, 50, 100, 200, 500)),
            *(f"{degrees} degrees" for degrees in (75, 60, 45, 30)),
        ),
        "jarno": tuple(str(number) for number in range(2, 21)),
    }


@pytest.mark.parametrize(
    ("system", "size", "half_angle_deg"),
    [
        # Worked with mpmath, 30 digits, from the ratio: 7/48, 1/20, 1/48, 1/100, 1/32.
        ("steep", "40", 8.29714497),
        ("metric", "100", 1.43209618),
        ("jarno", "8", 1.43209618),
        ("inch pin", "4", 0.59680945),
        ("metric pin", "4", 0.57293870),
        ("pipe", "1:16", 1.78991061),
        # Tolerance for tapered bore, sawhneybearings.com 2022-02: 2 deg 23 min 9.4 s.
        ("bearing bore", "1:12", 2.38594403),
        # The general series, table 1: 1 deg 8 min 45.1586 s included.
        ("cone series", "1:50", 0.57293870),
        ("cone series", "30 degrees", 15.0),
    ],
)
def test_a_system_s_half_angle_is_that_worked_apart(
    system: str, size: str, half_angle_deg: float
) -> None:
    assert find(system, size).taper.half_angle.degrees == pytest.approx(half_angle_deg, abs=1e-8)


# Morse Taper Sizes, woodsthebest.com/tools/tooling/morseTaperSizes.htm, and
# bbs.homeshopmachinist.net archive t-5394: gauge diameters in millimetres.
MORSE_GAUGE_MM = {
    "0": 9.045,
    "1": 12.065,
    "2": 17.780,
    "3": 23.825,
    "4": 31.267,
    "5": 44.399,
    "6": 63.348,
}


@pytest.mark.parametrize("number", MORSE_GAUGE_MM)
def test_morse_gauge_diameters_agree_with_those_published_in_millimetres(number: str) -> None:
    gauge = find("morse", number).gauge_diameter

    assert gauge
    assert gauge.mm == pytest.approx(MORSE_GAUGE_MM[number], abs=6e-4)


def test_a_pin_is_named_by_its_small_end_in_millimetres_and_its_large_one_in_inches() -> None:
    metric, inch = find("metric pin", "6"), find("inch pin", "6")

    assert (metric.small_end, metric.gauge_diameter) == (Length(6.0), None)
    assert (inch.small_end, inch.gauge_diameter) == (None, Length.from_inches(0.341))


def test_a_jarno_taper_is_its_number_in_eighths_tenths_and_halves() -> None:
    eight = find("jarno", "8")

    assert eight.gauge_diameter == Length.from_inches(1)
    assert eight.small_end == Length.from_inches(0.8)
    assert eight.length == Length.from_inches(4)


def test_every_taper_names_its_source_and_says_what_is_from_memory() -> None:
    assert all(one.source for one in ALL)
    from_memory = {
        system: [one.size for one in ALL if one.system == system and one.from_memory]
        for system in systems()
    }
    assert from_memory == {
        "morse": ["0", "4-1/2", "5", "6", "7"],
        "metric": list(sizes("metric")),
        "brown and sharpe": list(sizes("brown and sharpe")),
        "jacobs": list(sizes("jacobs")),
        "steep": ["10", "20", "25", "35", "45", "60"],
        "metric pin": [],
        "inch pin": [str(number) for number in range(5, 15)],
        "pipe": [],
        "bearing bore": [],
        "cone series": [],
        "jarno": [],
    }
    assert find("morse", "0").memory == "fifth digit of the rate"
    assert find("steep", "60").memory == "every figure"


def test_an_unknown_system_or_size_is_refused_with_those_there_are() -> None:
    with pytest.raises(UnknownName) as caught:
        find("r8", "1")
    assert (caught.value.kind, caught.value.name) == ("system of tapers", "r8")
    assert caught.value.known == systems()

    with pytest.raises(UnknownName) as caught:
        find("morse", "9")
    assert str(caught.value) == ("I know no morse taper 9; I know 0 to 7.")
    with pytest.raises(UnknownName):
        sizes("r8")


def test_the_other_lengths_in_circulation_would_give_the_wrong_rate() -> None:
    # Machine Tool Tapers Reference, thetoolgarage.com/tapers.htm: shorter lengths beside the
    # same diameters. Nobody should put them into the table in good faith.
    lengths_in = dict(
        zip("0123456", (1.9375, 2.0625, 2.5, 3.0625, 3.875, 4.9375, 7.0), strict=True)
    )
    for number, length_in in lengths_in.items():
        right = find("morse", number)
        assert right.gauge_diameter
        assert right.small_end
        wrong = taper.from_diameters(
            right.gauge_diameter, right.small_end, Length.from_inches(length_in)
        )
        assert wrong.per_foot.inches - right.taper.per_foot.inches > 0.01
        assert math.degrees(wrong.half_angle.rad - right.taper.half_angle.rad) * 60 > 1


def test_a_table_is_read_when_first_asked_for() -> None:
    # In a process of its own, where no other test has asked for one.
    ask = (
        "from assistant.tables import rows, standard_tapers as tapers\n"
        "before = rows.load.cache_info().currsize\n"
        "tapers.find('steep', '40')\n"
        "print(before, rows.load.cache_info().currsize)"
    )
    said = subprocess.run([sys.executable, "-c", ask], check=True, capture_output=True, text=True)

    assert said.stdout.split() == ["0", "1"]
