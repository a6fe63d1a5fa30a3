"""Settings: what is left out has a default, what is wrong is named, with its line."""

from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import BenchError
from assistant.language.attention import WORDS
from assistant.settings import (
    ALLOWED,
    Choice,
    Numbers,
    Settings,
    Text,
    from_toml,
    in_force,
)


def test_an_empty_file_gives_the_defaults() -> None:
    assert from_toml("") == Settings()


def test_a_head_can_be_described() -> None:
    job = from_toml("[head]\npitch_mm = 0.635\ndivisions = 25\n").first_job()
    assert (job.head.screw.pitch.mm, job.head.screw.divisions) == (0.635, 25)


@pytest.mark.parametrize(
    ("parts", "called"),
    [
        ("", WORDS[0]),
        (f"attention = '{WORDS[1]}'", WORDS[1]),
        ("attention = 'none'", ""),
        ("listen = 'pedal'", ""),
    ],
)
def test_openly_it_is_called_by_a_word_unless_told_otherwise(parts: str, called: str) -> None:
    assert from_toml(f"[parts]\n{parts}\n").parts.called == called


REFUSALS = {
    "[head]\npitch = 1": (
        "In bench.toml, line 2, there is no setting head.pitch; what stands there must be "
        "pitch_mm, divisions, dial_reads, travel_mm, steepest_half_angle_deg, tool_post or "
        "backlash_mm."
    ),
    "[job]\nunit = 'mm'\n\n[lathe]\n": (
        "In bench.toml, line 4, there is no setting lathe; what stands there must be [head], "
        "[job], [measuring], [reminders], [sound] or [parts]."
    ),
    "# mine\nhead = 3": (
        "In bench.toml, line 2, the setting head must be a table that begins [head], not 3."
    ),
    "[head]\npitch_mm = 0": (
        "In bench.toml, line 2, the setting head.pitch_mm must be a number from 0.01 to 25, not 0."
    ),
    "[head]\r\n\r\npitch_mm = '1'\r\n": (
        "In bench.toml, line 3, the setting head.pitch_mm must be a number from 0.01 to 25, "
        "not '1'."
    ),
    "[head]\nbacklash_mm = inf": (
        "In bench.toml, line 2, the setting head.backlash_mm must be a number from 0 to 5, not inf."
    ),
    "[head]\nbacklash_mm = nan": (
        "In bench.toml, line 2, the setting head.backlash_mm must be a number from 0 to 5, not nan."
    ),
    "[reminders]\noil_turns = true": (
        "In bench.toml, line 2, the setting reminders.oil_turns must be "
        "a number from 1 to 1000000, not True."
    ),
    "[head]\ndivisions = 2.5": (
        "In bench.toml, line 2, the setting head.divisions must be "
        "a whole number from 1 to 1000, not 2.5."
    ),
    "head = {divisions = 50, tool_post = 'left'}": (
        'In bench.toml, line 1, the setting head.tool_post must be "front" or "rear", not \'left\'.'
    ),
    "parts.attention = 'computer'": (
        "In bench.toml, line 1, the setting parts.attention must be "
        '"toolmaker", "archimedes", "galileo" or "none", not \'computer\'.'
    ),
    '[job]\nunit = """\nunit = \'in\'"""': (
        'In bench.toml, line 3, the setting job.unit must be "mm" or "in", not "unit = \'in\'".'
    ),
    "[sound]\nvoice = 3": (
        "In bench.toml, line 2, the setting sound.voice must be "
        'text in quotes, a voice of espeak-ng, such as "en-gb", not 3.'
    ),
    "\nnonsense": (
        "I cannot read the settings in bench.toml, line 2: "
        "it is no TOML, expected '=' after a key in a key/value pair."
    ),
    "[sound]\nvoice = en-gb\n": (
        "I cannot read the settings in bench.toml, line 2: it is no TOML, invalid value."
    ),
    "[job]\nunit = 'mm'\nunit = 'in'\n": (
        "I cannot read the settings in bench.toml, line 3: it is no TOML, cannot overwrite a value."
    ),
}


@pytest.mark.parametrize("text", REFUSALS)
def test_what_cannot_be_is_refused_with_its_line_and_what_it_may_be(text: str) -> None:
    with pytest.raises(BenchError) as refused:
        from_toml(text, "bench.toml")
    assert str(refused.value) == REFUSALS[text]


def test_all_that_can_be_set_says_what_it_may_be_and_its_default_is_that() -> None:
    settings = Settings()
    for table, names in ALLOWED.items():
        kept = getattr(settings, table)
        assert [field.name for field in fields(kept)] == list(names)
        for name, allowed in names.items():
            assert allowed.take(getattr(kept, name)) == getattr(kept, name)
    assert [field.name for field in fields(settings)] == [*ALLOWED, "head_given"]


def values(allowed: Numbers | Choice | Text) -> st.SearchStrategy[object]:
    match allowed:
        case Numbers(least, most, whole=True):
            return st.integers(int(least), int(most))
        case Numbers(least, most):
            return st.floats(least, most)
        case Choice(of):
            return st.sampled_from(of)
        case Text():
            # What is in a file is in no surrogates.
            return st.text(st.characters(exclude_categories=["Cs"]))


files = st.fixed_dictionaries(
    {},
    optional={
        table: st.fixed_dictionaries(
            {}, optional={name: values(allowed) for name, allowed in names.items()}
        )
        for table, names in ALLOWED.items()
    },
)


def in_toml(value: object) -> str:
    if isinstance(value, str):
        return '"' + "".join(f"\\U{ord(character):08x}" for character in value) + '"'
    return repr(value)


@given(files)
def test_what_is_printed_reads_back_to_the_same_settings(
    tables: dict[str, dict[str, object]],
) -> None:
    lines = []
    for table, names in tables.items():
        lines.append(f"[{table}]")
        lines += [f"{name} = {in_toml(value)}" for name, value in names.items()]
    text = "\n".join(lines)
    settings, printed = from_toml(text), in_force(text, "bench.toml")

    assert from_toml(printed) == settings
    shown = printed.splitlines()
    for line in lines:
        if not line.startswith("["):
            assert (
                sum(each.endswith(f"; bench.toml:{lines.index(line) + 1}") for each in shown) == 1
            )


def test_each_is_printed_with_what_it_may_be_and_where_it_came_from() -> None:
    printed = in_force("[parts]\nusb_gauge = 'cable'\nlisten = 'pedal'\n", "bench.toml")

    assert printed.partition("[parts]\n")[2] == (
        'listen = "pedal"  # "open" or "pedal"; bench.toml:3\n'
        'attention = "toolmaker"  # "toolmaker", "archimedes", "galileo" or "none"; default\n'
        'spindle = "none"  # "none", "level" or "pulses"; default\n'
        "pulses_per_turn = 1  # a whole number from 1 to 100; default\n"
        'small_screen = "none"  '
        '# "none", "ssd1306", "ssd1309", "ssd1315" or "sh1106"; default\n'
        'usb_pad = ""  '
        '# text in quotes, part of its name in /dev/input/by-id; "" where there is none; default\n'
        'usb_gauge = "cable"  '
        '# text in quotes, part of its name in /dev/input/by-id; "" where there is none; '
        "bench.toml:2\n"
    )


def test_the_head_is_a_comment_until_one_is_given() -> None:
    assert "# [head]\n# pitch_mm = 0.5  #" in in_force("")
    assert "\n[head]\npitch_mm = 0.5  #" in in_force("[head]\n")
