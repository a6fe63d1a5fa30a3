"""Settings: what is left out has a default, what is wrong is named."""

import pytest

from assistant.errors import BadSetting
from assistant.settings import Settings, from_toml


def test_an_empty_file_gives_the_defaults() -> None:
    assert from_toml("") == Settings()


def test_a_head_can_be_described() -> None:
    job = from_toml("[head]\npitch_mm = 0.635\ndivisions = 25\n").first_job()
    assert (job.head.screw.pitch.mm, job.head.screw.divisions) == (0.635, 25)


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("[head]\npitch = 1", "head.pitch"),
        ("[head]\npitch_mm = 0", "head.pitch_mm"),
        ("[head]\ndivisions = 2.5", "head.divisions"),
        ("[head]\ntool_post = 'left'", "head.tool_post"),
        ("[sound]\nvoice = 3", "sound.voice"),
        ("[lathe]\n", "lathe"),
        ("nonsense", "file"),
    ],
)
def test_a_setting_that_cannot_be_is_refused_by_name(text: str, name: str) -> None:
    with pytest.raises(BadSetting) as refused:
        from_toml(text)
    assert refused.value.name == name
