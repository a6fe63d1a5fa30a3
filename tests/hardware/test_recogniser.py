"""Hearing: the contract on both recognisers, then what only the real one must do."""

import os
import signal
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from assistant.errors import RecogniserLost
from assistant.events import Hearing
from assistant.ports import Recogniser, Sound
from hardware.recogniser import ScriptedRecogniser, VoskRecogniser, hear_sound, joined
from hardware.sounds import at_rate, blocks
from hardware.voice import PyttsxSynthesiser
from tests.hardware.conftest import MODEL

TAPER = "number two morse taper"
LENGTH = "length between balls one hundred and forty two point five millimetres"
TURNS = "how many turns"
PHRASES = [TAPER, "number three morse taper", LENGTH, TURNS]


def silence(seconds: float, rate_hz: int = 22_050) -> Sound:
    return Sound(rate_hz, bytes(2 * round(seconds * rate_hz)))


def spoken(voice: PyttsxSynthesiser, words: str, pause_s: float = 0.0) -> Sound:
    sound = voice.sound(words)
    return Sound(sound.rate_hz, sound.samples + silence(pause_s).samples)


def in_noise(sound: Sound) -> Sound:
    """Return the sound in hiss twice as large as itself, at a third of its level."""
    speech = np.frombuffer(sound.samples, "<i2").astype(np.float64)
    hiss = np.random.default_rng(1).normal(size=len(speech)) * np.sqrt((speech**2).mean())
    mixed = ((speech + 2 * hiss) / 3).clip(-32_768, 32_767)
    return Sound(sound.rate_hz, mixed.astype("<i2").tobytes())


@pytest.fixture(params=["vosk", "scripted"])
def hearing(request: pytest.FixtureRequest) -> Callable[..., Recogniser]:
    """Return a maker of recognisers that hear these words, one utterance after the other."""

    def make(*words: str) -> Recogniser:
        recogniser: Recogniser = (
            request.getfixturevalue("vosk")
            if request.param == "vosk"
            else ScriptedRecogniser(Hearing((each,)) for each in words)
        )
        recogniser.expect(PHRASES)
        return recogniser

    return make


# The contract, on both.


def test_a_pause_ends_the_utterance_once(
    hearing: Callable[..., Recogniser], voice: PyttsxSynthesiser
) -> None:
    recogniser = hearing(TAPER, TURNS)

    heard = [
        recogniser.accept(block)
        for words in (TAPER, TURNS)
        for block in blocks(spoken(voice, words, pause_s=0.9))
    ]

    assert [each.words for each in heard if each] == [TAPER, TURNS]


def test_finish_ends_an_utterance_without_a_pause(
    hearing: Callable[..., Recogniser], voice: PyttsxSynthesiser
) -> None:
    recogniser = hearing(TURNS)
    assert recogniser.accept(spoken(voice, TURNS)) is None

    assert recogniser.finish().words == TURNS
    assert recogniser.finish() == Hearing()


def test_it_is_hearing_from_a_word_made_out_to_the_pause_that_ends_it(
    hearing: Callable[..., Recogniser], voice: PyttsxSynthesiser
) -> None:
    recogniser = hearing(TAPER)
    began = []
    for block in blocks(spoken(voice, TAPER, pause_s=0.9)):
        ended = recogniser.accept(block) is not None
        began.append(recogniser.hearing)
        if ended:
            break

    first = began.index(True)
    assert began == [False] * first + [True] * (len(began) - first - 1) + [False]
    assert len(began) - first > 5


def test_words_dropped_or_finished_are_heard_no_more(
    hearing: Callable[..., Recogniser], voice: PyttsxSynthesiser
) -> None:
    recogniser = hearing(TAPER)
    ends: list[Callable[[], object]] = [recogniser.finish, lambda: recogniser.expect(PHRASES)]
    for end in ends:
        recogniser.accept(spoken(voice, TAPER))
        assert recogniser.hearing

        end()

        assert not recogniser.hearing


def test_silence_is_no_utterance(hearing: Callable[..., Recogniser]) -> None:
    recogniser = hearing(TAPER)

    assert [recogniser.accept(silence(1.0)) for _ in range(7)] == [None] * 7
    assert not recogniser.hearing
    assert recogniser.finish() == Hearing()


def test_expecting_other_words_drops_the_utterance_begun(
    hearing: Callable[..., Recogniser], voice: PyttsxSynthesiser
) -> None:
    recogniser = hearing(TAPER)
    recogniser.accept(spoken(voice, TAPER))

    recogniser.expect([TURNS])

    assert recogniser.finish() == Hearing()


def test_a_recording_without_a_sample_holds_no_words(hearing: Callable[..., Recogniser]) -> None:
    assert hear_sound(hearing(TAPER), Sound(16_000, b"")) == Hearing()


@pytest.mark.parametrize("words", [TAPER, LENGTH, TURNS])
def test_a_recording_is_heard_whole(
    hearing: Callable[..., Recogniser], voice: PyttsxSynthesiser, words: str
) -> None:
    assert hear_sound(hearing(words), voice.sound(words)).words == words


# A long pause in a recording.


def test_a_recording_with_a_pause_inside_is_one_utterance(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    vosk.expect(PHRASES)
    with_pause = Sound(22_050, b"".join(spoken(voice, w, 1.5).samples for w in (TAPER, TURNS)))

    assert hear_sound(vosk, with_pause).words == f"{TAPER} {TURNS}"


def test_the_parts_of_a_recording_are_joined_the_likeliest_first_and_capped() -> None:
    first, second = Hearing(("fifteen", "fifty", "sixty")), Hearing(("point five", "point nine"))
    word, pause = Sound(1_000, b"\1\0" * 100), silence(0.1, rate_hz=1_000)
    sound = Sound(1_000, word.samples + pause.samples + word.samples)

    heard = hear_sound(ScriptedRecogniser([first, second]), sound, most=4)

    assert heard.alternatives == (
        "fifteen point five",
        "fifteen point nine",
        "fifty point five",
        "fifty point nine",
    )


def test_parts_with_scores_are_joined_the_likeliest_first() -> None:
    number, part = (
        Hearing(("fifteen", "fifty"), (-10.0, -10.5)),
        Hearing(("point five", "point nine"), (-7.0, -7.2)),
    )

    whole = joined([number, Hearing(), part], most=3)
    assert whole.alternatives == ("fifteen point five", "fifteen point nine", "fifty point five")
    assert whole.scores == pytest.approx((-17.0, -17.2, -17.5))


def test_what_the_first_listener_made_of_the_parts_is_joined_and_the_least_clear_counts() -> None:
    number = Hearing(("fifteen",), (-10.0,), unaided="fifty", clearness=-0.2, written=-1)
    part = Hearing(("point five",), (-7.0,), unaided="point five", clearness=-0.1, written=-2)

    whole = joined([number, Hearing(), part], most=3)
    assert whole.unaided == "fifty point five"
    assert (whole.clearness, whole.written) == (-0.2, -2)
    assert joined([number, replace(part, unaided=None)], most=3).unaided is None


def test_a_recording_with_many_pauses_is_joined_at_once() -> None:
    parts = [Hearing(tuple("abcde"))] * 40
    word_and_pause = b"\1\0" * 100 + bytes(200)

    heard = hear_sound(ScriptedRecogniser(parts), Sound(1_000, word_and_pause * 40))

    assert len(heard.alternatives) == 10
    assert heard.words == " ".join("a" * 40)


# What vosk must do besides.


@pytest.mark.parametrize("rate_hz", [8_000, 16_000, 44_100, 48_000])
def test_any_rate_of_a_device_is_heard(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser, rate_hz: int
) -> None:
    vosk.expect(PHRASES)

    assert hear_sound(vosk, at_rate(voice.sound(TURNS), rate_hz)).words == TURNS


def test_a_sound_of_other_words_is_heard_as_unknown(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    vosk.expect(["how many turns"])

    heard = hear_sound(vosk, voice.sound("good evening ladies and gentlemen welcome aboard"))

    assert heard.words is not None
    assert "[unk]" in heard.words.split()


def test_hiss_is_not_taken_for_a_word_begun(vosk: VoskRecogniser) -> None:
    # Or noise would hold a reminder back for ever.
    vosk.expect(PHRASES)
    hiss = np.random.default_rng(1).normal(scale=3_000, size=10 * 16_000).astype("<i2")

    for block in blocks(Sound(16_000, hiss.tobytes())):
        vosk.accept(block)
        assert not vosk.hearing


def test_several_readings_come_without_repeats_and_without_empty_ones(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    vosk.expect(["fifteen", "fifty", "five", "nine", "a", "and", "point", "eight", "eighth"])

    heard = hear_sound(vosk, in_noise(voice.sound("fifteen point eight")))
    alternatives = heard.alternatives

    assert 2 <= len(alternatives) <= 10
    assert list(heard.scores) == sorted(heard.scores, reverse=True)
    assert len(heard.scores) == len(alternatives)
    assert len(set(alternatives)) == len(alternatives)
    assert all(alternatives)


def test_words_the_model_lacks_are_named_and_their_phrases_left_out_whole(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    assert vosk.lacking(["number", "two", "gromit", "taper"]) == ("gromit",)

    vosk.expect(["number two gromit", TURNS])

    # Shortened instead, the first phrase would be heard as "number two".
    assert hear_sound(vosk, voice.sound("number two")).words != "number two"


def test_new_words_in_the_middle_of_an_utterance_do_not_kill_vosk(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    # SetGrammar there aborts the process.
    child = vosk.pid
    for begun, following in pairwise([TAPER, TURNS, LENGTH]):
        vosk.expect([begun])
        vosk.accept(spoken(voice, begun))
        vosk.expect([following])
        assert hear_sound(vosk, voice.sound(following)).words == following

    assert vosk.pid == child


def test_nothing_is_left_of_an_utterance_when_its_words_are_expected_again(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    turns, taper = voice.sound(TURNS), voice.sound(TAPER)
    heard = []
    for _ in range(2):
        vosk.expect(PHRASES)
        vosk.accept(turns)
        heard.append(vosk.finish())
        vosk.expect([LENGTH])
        vosk.expect(PHRASES)
        vosk.accept(taper)
        vosk.expect([LENGTH])

    assert heard[1] == heard[0]


@pytest.mark.parametrize("killed_by", [signal.SIGKILL, signal.SIGABRT])
def test_a_recogniser_killed_in_an_utterance_says_so_once_and_hears_the_next(
    voice: PyttsxSynthesiser, killed_by: signal.Signals
) -> None:
    recogniser = VoskRecogniser(MODEL)
    recogniser.expect(PHRASES)
    first, second, *_ = blocks(voice.sound(TAPER))
    recogniser.accept(first)
    os.kill(recogniser.pid, killed_by)

    with pytest.raises(RecogniserLost, match="please say it again"):
        recogniser.accept(second)

    assert hear_sound(recogniser, voice.sound(TURNS)).words == TURNS
    recogniser.close()


def test_a_recogniser_killed_between_utterances_loses_nothing(voice: PyttsxSynthesiser) -> None:
    recogniser = VoskRecogniser(MODEL)
    os.kill(recogniser.pid, signal.SIGKILL)

    recogniser.expect([TURNS])

    assert hear_sound(recogniser, voice.sound(TURNS)).words == TURNS
    recogniser.close()


def test_control_c_leaves_the_recogniser_alone(
    vosk: VoskRecogniser, voice: PyttsxSynthesiser
) -> None:
    child = vosk.pid
    os.kill(child, signal.SIGINT)
    vosk.expect([TURNS])

    assert hear_sound(vosk, voice.sound(TURNS)).words == TURNS
    assert vosk.pid == child
