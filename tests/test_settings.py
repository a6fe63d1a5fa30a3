"""Settings: what is left out has a default, what is wrong is named."""

import pytest

from assistant.errors import BadSetting
from assistant.language.attention import WORDS
from assistant.settings import Settings, from_toml


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


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("[head]\npitch = 1", "head.pitch"),
        ("[head]\npitch_mm = 0", "head.pitch_mm"),
        ("[head]\ndivisions = 2.5", "head.divisions"),
        ("[head]\ntool_post = 'left'", "head.tool_post"),
        ("[sound]\nvoice = 3", "sound.voice"),
        ("[parts]\nattention = 'computer'", "parts.attention"),
        ("[lathe]\n", "lathe"),
        ("nonsense", "file"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_by_name(text: str, name: str) -> None:
    with pytest.raises(BadSetting) as refused:
        from_toml(text)
    assert refused.value.name == name
