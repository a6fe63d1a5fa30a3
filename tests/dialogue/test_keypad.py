"""The keys: everything that can be said can be keyed, shortly, exactly and without a slip."""

from collections.abc import Mapping
from dataclasses import fields, replace
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType
from typing import get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calc.screw import DialReads
from assistant.calc.setover import End, ToolPost
from assistant.calc.trueing import Contact
from assistant.dialogue import keypad
from assistant.dialogue.keypad import FUNCTIONS, MATERIALS, PAGES, Entry
from assistant.errors import BenchError, NotUnderstood, OutOfRange, UnknownName
from assistant.events import Hearing, Key
from assistant.journal import KINDS
from assistant.language import requests as r
from assistant.language.listening import Context, meanings_of
from assistant.language.requests import Measure, Question, Request, Topic, Unit
from assistant.tables import cutting, standard_tapers
from assistant.tables.cutting import Tool

LETTERS = "ABCD"
# The keys of each function, and the slots it asks for.
SLOTS = [(keys, slot) for keys, function in FUNCTIONS.items() for slot in function.slots]


def pressed(
    keys: str,
    unit: Unit = Unit.MILLIMETRE,
    asked: str | None = None,
    answers: Mapping[Key, Request] = MappingProxyType({}),
) -> Entry | Request | None:
    """Return what a run of keys comes to."""
    made: Entry | Request | None = None
    for number, key in enumerate(keys):
        if number == 0:
            made = keypad.begin(Key(key), asked, unit, answers)
        else:
            assert isinstance(made, Entry), f"{keys[:number]} was already whole"
            made = keypad.press(made, Key(key), unit)
    return made


def mm(figures: str) -> Measure:
    return Measure(Fraction(figures))


def inches(figures: str) -> Measure:
    return Measure(Fraction(figures), Unit.INCH)


# Everything that can be meant

KEYED: dict[str, Request] = {
    "A120#": r.TaperByRatio(Fraction(1), Fraction(20)),
    "A11*5#": r.TaperByRatio(Fraction(1), Fraction(3, 2)),
    "A22#": r.TaperByName("morse", "2"),
    "A24A1A2#": r.TaperByName("morse", "4-1/2"),
    "A31#26#": r.TaperByHalfAngle(Fraction(43, 30)),
    "A31*5##": r.TaperByHalfAngle(Fraction(3, 2)),
    "A43##": r.TaperByIncludedAngle(Fraction(3)),
    "A55A8#": r.TaperPerFoot(Measure(Fraction(5, 8))),
    "A531*C2#": r.TaperPerFoot(Measure(Fraction("31.2"), Unit.MILLIMETRE)),
    "A631#28*5#50#": r.TaperByDiameters(mm("31"), mm("28.5"), mm("50")),
    "A77#24#": r.TaperByRatio(Fraction(7), Fraction(24)),
    "A88#": r.TaperByName("jarno", "8"),
    "A97#": r.TaperByName("brown and sharpe", "7"),
    "A080#": r.TaperByName("metric", "80"),
    "A#19*05#17*8#25#": r.Measured(mm("19.05"), mm("17.8"), mm("25")),
    "A*3#": r.StandsOff(mm("3")),
    "AA133#": r.TaperByName("jacobs", "33"),
    "AA340#": r.TaperByName("steep", "40"),
    "AA40*6#": r.TaperByName("metric pin", "0.6"),
    "AA51#": r.TaperByName("inch pin", "1"),
    "AA67#": r.TaperByName("inch pin", "7/0"),
    "AA7": r.TaperByName("pipe", "1:16"),
    "AB12*4#50#": r.IndicatorMoved(mm("2.4"), mm("50")),
    "AB3": r.BlueAt(Contact.SMALL_END),
    "AB52#": r.WithinAngle(Fraction(2, 60)),
    "B1142*5#": r.BetweenBalls(mm("142.5")),
    "B1142*5C#": r.BetweenBalls(inches("142.5")),
    "B2172*3#10#": r.OverBalls(mm("172.3"), mm("10")),
    "B2172*3##": r.OverBalls(mm("172.3")),
    "B310#": r.BallDiameter(mm("10")),
    "B4150#": r.WorkLength(mm("150")),
    "B59#": r.Mouth(mm("9")),
    "B63*15#": r.Pilot(mm("3.15")),
    "B730#": r.WorkDiameter(mm("30")),
    "B8#": r.NextPart(),
    "B8143#": r.NextPart(mm("143")),
    "B93#": r.RepeatJob(3),
    "B0": r.FinishJob(),
    "B#*2#": r.TookCut(mm("0.2")),
    "B*": r.Oiled(),
    "BA11#": r.MaterialIs(MATERIALS[0]),
    "BA3": r.ToolIs(Tool.CARBIDE),
    "BA4180#": r.RunningAt(Fraction(180)),
    "BB2": r.BallIs(r.Warmth.WARM),
    "BB4": r.Eased(),
    "BB5": r.PutOff(),
    "C1": r.Ask(Question.SET_OVER),
    "CC": r.Ask(Question.AGAIN),
    "C#": r.SpindleStarted(),
    "C*": r.SpindleStopped(),
    "D1": r.Undo(),
    "D02#": r.Undo(2),
    "D3": r.Units(Unit.INCH),
    "D5": r.SmallEnd(End.HEADSTOCK),
    "D61A2#": r.ScrewPitch(Measure(Fraction(1, 2))),
    "D740#": r.ThreadsPerInch(Fraction(40)),
    "D850#": r.Divisions(Fraction(50)),
    "D9": r.NewJob(),
    "DD": r.Cancel(),
    "D#": r.HeadSet(),
    "D*": r.HeadAtZero(),
    "DA0": r.SetUpHead(),
    "DA1*08#": r.Backlash(mm("0.08")),
    "DA28#": r.BacklashDivisions(Fraction(8)),
    "DA312#": r.HeadTravel(mm("12")),
    "DA5": r.DialIs(DialReads.DIAMETER),
    "DA7": r.ToolPostAt(ToolPost.REAR),
    "DB2": r.Correct(Topic.LENGTH),
    "DC2": r.ChangeVoice(r.VoiceChange.QUIETER),
    "DC6": r.StopListening(),
    "DC7": r.Listen(),
    "#": r.Yes(),
    "*": r.No(),
}

# Single keys that answer where one of two was asked for.
ANSWERED = [
    *keypad.ANGLE_ANSWERS.values(),
    *keypad.DIAL_ANSWERS.values(),
    *keypad.TOOL_POST_ANSWERS.values(),
    *keypad.WHICH_ANSWERS.values(),
]

NEVER_KEYED: dict[type[Request], str] = {
    r.TaperByAngle: "A3 and A4 say which angle it is",
    r.Bare: "a number keyed in answer goes to the function that was asked for",
    r.Facts: "keys state one fact at a time",
    r.ChoiceOfUnit: "1 and 2 pick a meaning whatever its unit",
    r.RunSoFar: "nobody says it",
    r.Either: "keys mean one thing",
    r.Unsure: "keys are never misheard",
}


@pytest.mark.parametrize("keys", KEYED)
def test_a_run_of_keys_means_what_the_table_says(keys: str) -> None:
    assert pressed(keys) == KEYED[keys]


def test_every_request_that_can_be_spoken_can_be_keyed() -> None:
    keyed = {type(request) for request in (*KEYED.values(), *ANSWERED)}

    assert keyed.isdisjoint(NEVER_KEYED)
    assert keyed | NEVER_KEYED.keys() == set(KINDS.values())


def test_every_function_is_in_the_table_or_asks_no_number() -> None:
    functions = {keys for keys in FUNCTIONS if any(row.startswith(keys) for row in KEYED)}

    assert not [
        keys for keys, function in FUNCTIONS.items() if function.slots and keys not in functions
    ]


def test_every_choice_that_can_be_spoken_can_be_keyed() -> None:
    """Every question, end, tool, change of voice and so on, not just one of each kind."""
    plain = [function.build() for function in FUNCTIONS.values() if not function.slots]
    keyed = {
        (type(request), getattr(request, field.name))
        for request in (*plain, *ANSWERED)
        for field in fields(request)  # type: ignore[arg-type]  # every request made is a dataclass
    }
    unclear = {Unit.THOU, Unit.MICRON, Unit.MIL, Unit.TENTH}
    wanted = {
        (kind, choice)
        for kind in KINDS.values()
        for hint in get_type_hints(kind).values()
        if isinstance(hint, type) and issubclass(hint, StrEnum)
        for choice in hint
        if kind is not r.ChoiceOfUnit and choice not in unclear
    }

    assert wanted - keyed == set()


@pytest.mark.parametrize(
    ("words", "keys"),
    [
        ("morse two", "A22#"),
        ("one in twenty", "A120#"),
        ("half angle one degree twenty six minutes", "A31#26#"),
        ("five eighths of an inch per foot", "A55A8#"),
        ("large end thirty one small end twenty eight point five over fifty", "A631#28*5#50#"),
        ("jarno eight", "A88#"),
        ("between balls one forty two point five", "B1142*5#"),
        ("five and three eighths inches between balls", "B15A3A8C#"),
        ("forty threads per inch", "D740#"),
        ("twenty five divisions", "D825#"),
        ("set over", "C1"),
        ("which way", "C3"),
        ("say that again", "CC"),
        ("small end at the headstock", "D5"),
        ("undo two", "D02#"),
        ("yes", "#"),
        ("no", "*"),
    ],
)
def test_keyed_and_spoken_mean_the_same(words: str, keys: str) -> None:
    (said,) = meanings_of(Hearing((words,)), Context.READY)
    keyed = pressed(keys)
    # Keyed, a taper per foot is in inches without saying so.
    if isinstance(said, r.TaperPerFoot) and said.change.unit is Unit.INCH:
        said = replace(said, change=replace(said.change, unit=None))

    assert said == keyed


# The scheme


def test_every_function_is_at_most_three_keys() -> None:
    assert {len(keys) for keys in FUNCTIONS} == {2, 3}


@pytest.mark.parametrize(
    "name",
    [
        *("measured", "gauge stands off", "took a cut", "oiled the ball", "say again", "undo"),
        *("spindle started", "spindle stopped", "head is set", "how many turns?"),
    ],
)
def test_what_is_wanted_most_takes_two_keys(name: str) -> None:
    (keys,) = (keys for keys, function in FUNCTIONS.items() if function.name == name)

    assert len(keys) == 2


def test_no_function_stands_in_the_way_of_another() -> None:
    assert FUNCTIONS.keys().isdisjoint(PAGES)
    for keys in (*FUNCTIONS, *(page for page in PAGES if len(page) == 2)):
        assert keys[:-1] in PAGES


def test_everything_fits_the_screen_and_the_card() -> None:
    for function in FUNCTIONS.values():
        assert 1 <= len(function.name) <= 18
        assert 1 <= len(function.tag) <= 4
        for slot in function.slots:
            assert 1 <= len(slot.label) <= 20
            assert slot.question.endswith("?")
    for page in PAGES.values():
        assert len(page.name) <= 20
        assert len(page.tag) <= 4


def test_no_two_functions_have_one_name() -> None:
    names = [function.name for function in FUNCTIONS.values()]

    assert sorted(set(names)) == sorted(names)


@pytest.mark.parametrize("page", PAGES)
def test_no_two_keys_of_a_page_look_alike(page: str) -> None:
    tags = [tag for line in keypad.keys_shown(page) for tag in cells(line) if tag]

    assert len(set(tags)) == len(tags) > 1


def cells(line: str) -> list[str]:
    return [line[at : at + 4].strip() for at in range(0, 20, 5)]


def test_the_screen_shows_the_pad_as_it_lies() -> None:
    assert keypad.keys_shown("B") == (
        "betw over ball work",
        "len  mth  pil  warm",
        "dia  next job",
        "oil  done cut  back",
    )


# Numbers


@given(st.sampled_from(SLOTS), st.decimals(0, 999, places=3).map(str))
def test_a_number_takes_its_figures_and_two_keys(at: tuple[str, keypad.Slot], value: str) -> None:
    keys = value.replace(".", "*") + "#"
    made: Entry | Request | None = Entry(at[0])
    for key in keys[:-1]:
        assert isinstance(made, Entry)
        made = keypad.press(made, Key(key), Unit.MILLIMETRE)

    assert len(keys) == sum(map(str.isdigit, value)) + 2
    assert isinstance(made, Entry)
    assert keypad.keyed_number(made.typed) == Fraction(value)


@given(st.integers(0, 99), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_every_fraction_of_an_inch_can_be_keyed(
    whole: int, numerator: int, denominator: int
) -> None:
    numerator %= denominator
    keys = f"{whole}A{numerator}A{denominator}" if whole else f"{numerator}A{denominator}"

    assert pressed(f"B1{keys}C#") == r.BetweenBalls(
        Measure(whole + Fraction(numerator, denominator), Unit.INCH)
    )


@pytest.mark.parametrize(
    "typed", ["", ".", "1.2.3", "1//5", "/5", "5/", "1/0", "1/2/3/4", "1.5/2", "1.5/1/2"]
)
def test_figures_that_are_no_number_are_refused(typed: str) -> None:
    with pytest.raises(NotUnderstood):
        keypad.keyed_number(typed)


def test_a_fraction_after_a_whole_number_is_less_than_one() -> None:
    with pytest.raises(NotUnderstood):
        keypad.keyed_number("3/9/8")


def test_a_key_leant_on_is_refused() -> None:
    with pytest.raises(NotUnderstood, match="a number of more than 9 figures"):
        pressed(f"B1{'8' * 40}#")


@pytest.mark.parametrize(
    ("job_unit", "keys", "unit"),
    [
        (Unit.MILLIMETRE, "B15C#", Unit.INCH),
        (Unit.INCH, "B15C#", Unit.MILLIMETRE),
        (Unit.MILLIMETRE, "B15CC#", None),
        (Unit.MILLIMETRE, "B1C5#", Unit.INCH),
    ],
)
def test_a_length_can_be_keyed_in_the_other_unit(
    job_unit: Unit, keys: str, unit: Unit | None
) -> None:
    assert pressed(keys, job_unit) == r.BetweenBalls(Measure(Fraction(5), unit))


def test_a_taper_per_foot_is_in_inches_and_its_other_unit_is_millimetres() -> None:
    assert pressed("A552C#") == r.TaperPerFoot(Measure(Fraction(52), Unit.MILLIMETRE))


def test_a_plain_number_has_no_other_unit() -> None:
    assert pressed("D7C40#") == r.ThreadsPerInch(Fraction(40))


@pytest.mark.parametrize(("keys", "number"), [("B90#", "0"), ("D01*5#", "1.5"), ("AA60#", "0")])
def test_a_count_is_a_whole_number(keys: str, number: str) -> None:
    with pytest.raises(OutOfRange, match=f"a whole number, 1 or more, not {number}"):
        pressed(keys)


@pytest.mark.parametrize("number", range(1, len(MATERIALS) + 1))
def test_a_material_is_keyed_by_its_number_or_found_in_the_list(number: int) -> None:
    assert pressed(f"BA1{number}#") == r.MaterialIs(MATERIALS[number - 1])
    assert pressed(f"BA1{'B' * number}#") == r.MaterialIs(MATERIALS[number - 1])
    # Past its end the list begins again.
    assert pressed(f"BA1{'B' * (number + len(MATERIALS))}#") == pressed(f"BA1{number}#")


def test_the_list_holds_every_material_with_a_speed() -> None:
    assert {name for tool in Tool for name in cutting.materials(tool)} == set(MATERIALS)


@pytest.mark.parametrize("keys", ["BA10#", f"BA1{len(MATERIALS) + 1}#", "BA11*0#", "BA1#"])
def test_a_number_off_the_list_is_refused(keys: str) -> None:
    with pytest.raises(NotUnderstood):
        pressed(keys)


def test_the_screen_can_tell_what_the_number_picks() -> None:
    entry = pressed("BA12")

    assert isinstance(entry, Entry)
    assert entry.picked == MATERIALS[1]


def test_every_size_of_every_named_taper_can_be_keyed() -> None:
    ratios = {"bearing bore", "cone series"}  # keyed as the ratio or the angle they name
    systems = set(standard_tapers.systems()) - ratios
    keyed = {
        r.TaperByName("jacobs", "2 short"): pressed("AA2"),
        r.TaperByName("pipe", "1:16"): pressed("AA7"),
    }
    functions = {
        "morse": "A2", "jarno": "A8", "brown and sharpe": "A9", "metric": "A0",
        "jacobs": "AA1", "steep": "AA3", "metric pin": "AA4", "inch pin": "AA5",
    }  # fmt: skip
    for system in systems - {"pipe"}:
        for size in standard_tapers.sizes(system):
            if size.endswith("short"):
                continue
            keys = f"{functions[system]}{size}#"
            if size.endswith("/0"):
                keys = f"AA6{size.removesuffix('/0')}#"
            named = r.TaperByName(system, size)
            keyed[named] = pressed(keys.replace("-", "A").replace(".", "*").replace("/", "A"))

    assert {named.system for named in keyed} == systems
    assert all(made == named for named, made in keyed.items())


def test_a_size_nobody_makes_is_refused_by_name() -> None:
    with pytest.raises(UnknownName, match="I know no morse taper 9"):
        pressed("A29#")


# Slips


@given(st.sampled_from(SLOTS), st.text("0123456789*A", min_size=1, max_size=8), st.data())
def test_rubbing_out_takes_back_one_key(
    at: tuple[str, keypad.Slot], typed: str, data: st.DataObject
) -> None:
    before = Entry(at[0])
    for key in typed[:-1]:
        made = keypad.press(before, Key(key), Unit.MILLIMETRE)
        assert isinstance(made, Entry)
        before = made
    after = keypad.press(before, Key(typed[-1]), Unit.MILLIMETRE)

    assert isinstance(after, Entry)
    assert keypad.press(after, Key.D, Unit.MILLIMETRE) == before


@pytest.mark.parametrize("keys", ["AD", "BD", "CD", "AAD", "DBD", "B1D", "B15DD", "A31#D"])
def test_rubbing_out_what_is_empty_leaves(keys: str) -> None:
    assert pressed(keys) is None


@pytest.mark.parametrize("keys", ["AC", "AA9", "AA#", "CA0", "DC*", "5", "0"])
def test_keys_that_choose_nothing_are_refused(keys: str) -> None:
    with pytest.raises(NotUnderstood):
        pressed(keys)


def test_a_number_that_was_asked_for_can_be_keyed_at_once() -> None:
    assert pressed("142*5#", asked="B1") == r.BetweenBalls(mm("142.5"))


def test_a_function_can_be_chosen_though_a_number_was_asked_for() -> None:
    assert pressed("C2", asked="B1") == r.Ask(Question.TURNS)


def test_a_choice_that_was_asked_for_takes_one_key() -> None:
    assert pressed("2", answers=keypad.DIAL_ANSWERS) == r.DialIs(DialReads.DIAMETER)
    assert pressed("*", answers=keypad.DIAL_ANSWERS) == r.No()


@given(
    st.text("".join(Key), min_size=1, max_size=40),
    st.none() | st.sampled_from([keys for keys, _ in SLOTS]),
    st.sampled_from([Unit.MILLIMETRE, Unit.INCH]),
)
def test_any_keys_at_all_give_a_request_an_entry_or_a_refusal(
    keys: str, asked: str | None, unit: Unit
) -> None:
    made: Entry | Request | None = None
    for key in keys:
        try:
            if isinstance(made, Entry):
                made = keypad.press(made, Key(key), unit)
            else:
                made = keypad.begin(Key(key), asked, unit)
        except BenchError:
            continue
        if isinstance(made, Entry):
            # Whatever is half keyed can be shown.
            assert (made.slot is None) == (made.chosen in PAGES)
