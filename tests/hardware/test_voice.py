"""Speaking: the contract on both synthesisers, then what only the real one must do."""

import os
import signal
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from assistant.errors import BadSetting, VoiceLost
from assistant.ports import Sound, Synthesiser
from hardware.recogniser import VoskRecogniser, hear_sound
from hardware.sounds import TAIL_S
from hardware.voice import PyttsxSynthesiser, SilentSynthesiser, as_read

SENTENCE = "set the head over three point five five eight millimetres"


@pytest.fixture(params=["pyttsx3", "silent"])
def synthesiser(request: pytest.FixtureRequest) -> Synthesiser:
    if request.param == "silent":
        return SilentSynthesiser()
    real: Synthesiser = request.getfixturevalue("voice")
    return real


def loudest(sound: Sound) -> int:
    return int(np.abs(np.frombuffer(sound.samples, "<i2").astype(np.int32)).max())


# The contract, on both.


def test_a_sentence_lasts_about_as_long_as_saying_it(synthesiser: Synthesiser) -> None:
    # Ten words at 150 or 160 a minute take 3.75 to 4 s.
    assert 2.5 < synthesiser.sound(SENTENCE).seconds < 5


def test_more_words_last_longer(synthesiser: Synthesiser) -> None:
    short, long = synthesiser.sound("seven turns"), synthesiser.sound(SENTENCE)

    assert short.seconds < long.seconds


def test_the_twin_notes_the_words() -> None:
    silent = SilentSynthesiser()
    silent.sound("seven turns")

    assert silent.spoken == ["seven turns"]


# What pyttsx3 must do besides.


def test_speech_is_loud_and_ends_without_a_long_silence(voice: PyttsxSynthesiser) -> None:
    sound = voice.sound("seven turns")
    tail = Sound(sound.rate_hz, sound.samples[-2 * round(TAIL_S * sound.rate_hz) :])

    assert loudest(sound) > 10_000
    assert loudest(tail) < loudest(sound) / 100


@pytest.mark.parametrize(
    ("words", "read"),
    [
        # espeak reads "thow" with the first sound of "thousandth".
        ("Ten thou, or a thou.", "Ten thow, or a thow."),
        ("Thou", "thow"),
        ("a thousandth of an inch", "a thousandth of an inch"),
    ],
)
def test_a_thou_is_read_as_a_thousandth_and_not_as_the_bibles(words: str, read: str) -> None:
    assert as_read(words) == read


def test_two_voices_at_once_from_four_threads_each_say_their_own_words(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    # Two engines in one process share a callback, and the first makes no sound.
    other = PyttsxSynthesiser("en-us+f3", words_per_minute=130)
    wanted = ["seven turns", "half angle", "how many turns", "number two morse taper"] * 2
    with ThreadPoolExecutor(4) as threads:
        sounds = list(
            threads.map(lambda n: (voice, other)[n // 4].sound(wanted[n]), range(len(wanted)))
        )
    other.close()
    vosk.expect(wanted)

    assert [hear_sound(vosk, sound).words for sound in sounds] == wanted


def test_a_rate_and_a_volume_that_were_set_are_kept() -> None:
    # pyttsx3 loses most properties that are set just before it speaks.
    slow = PyttsxSynthesiser("en-gb", words_per_minute=100, volume=0.25)
    fast = PyttsxSynthesiser("en-gb", words_per_minute=300)
    slow_sound, fast_sound = slow.sound(SENTENCE), fast.sound(SENTENCE)
    slow.close()
    fast.close()

    assert slow_sound.seconds > 2 * fast_sound.seconds
    assert loudest(slow_sound) < loudest(fast_sound) / 2


def test_nothing_is_printed(voice: PyttsxSynthesiser, capfd: pytest.CaptureFixture[str]) -> None:
    voice.sound("seven turns")

    assert capfd.readouterr() == ("", "")


@pytest.fixture
def own_voice() -> Iterator[PyttsxSynthesiser]:
    synthesiser = PyttsxSynthesiser("en-gb")
    yield synthesiser
    synthesiser.close()


def test_a_voice_that_died_names_the_words_lost_and_speaks_the_next(
    own_voice: PyttsxSynthesiser,
) -> None:
    os.kill(own_voice.pid, signal.SIGKILL)

    with pytest.raises(VoiceLost, match="I could not speak the words: seven turns"):
        own_voice.sound("seven turns")

    assert own_voice.sound("seven turns").seconds > 0.4


def test_no_words_give_no_sound_and_say_so(own_voice: PyttsxSynthesiser) -> None:
    with pytest.raises(VoiceLost):
        own_voice.sound("")


def test_a_voice_that_espeak_has_not_is_refused_by_name() -> None:
    with pytest.raises(BadSetting, match="voice of espeak-ng, such as en-gb, not 'en-yorks'"):
        PyttsxSynthesiser("en-yorks")


@pytest.mark.parametrize(
    ("words_per_minute", "volume", "sentence"),
    [
        (79, 1.0, "The setting words per minute must be 80 to 450, not 79."),
        (451, 1.0, "The setting words per minute must be 80 to 450, not 451."),
        (160, 0.0, "The setting volume must be more than 0 and at most 1, not 0.0."),
        (160, 1.1, "The setting volume must be more than 0 and at most 1, not 1.1."),
    ],
)
def test_a_number_out_of_the_voices_range_is_refused(
    words_per_minute: int, volume: float, sentence: str
) -> None:
    with pytest.raises(BadSetting) as refused:
        PyttsxSynthesiser("en-gb", words_per_minute, volume)

    assert str(refused.value) == sentence
