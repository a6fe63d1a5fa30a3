"""Who speaks for the network to learn from, and who never does."""

import random
from pathlib import Path

import numpy as np
import pytest

from grammars.acoustic.recipe import pico
from grammars.acoustic.recipe.accents import Accent, accents
from grammars.acoustic.recipe.phones import PHONES
from grammars.acoustic.recipe.pronounce import spellings
from grammars.acoustic.recipe.speech import (
    RATE_HZ,
    Utterance,
    read_shelf,
    trimmed,
    write_shelf,
)
from grammars.acoustic.recipe.voices import (
    DEVELOPMENT,
    HELD_OUT,
    TRAINING,
    Manner,
    robot,
    with_accents,
    written,
)

# Source: the list of voices kept for acceptance, written down before the first training.
KEPT = "af_nova am_eric bf_lily bm_lewis af_river am_puck"


def test_the_voices_kept_for_acceptance_are_held_out() -> None:
    kokoro = {f"kokoro:{name}" for name in KEPT.split()}

    assert kokoro | {"piper:joe", "flite:awb", "flite:rms"} == HELD_OUT


def test_no_voice_that_is_held_out_is_trained_on() -> None:
    assert len(TRAINING) == 22 + 26 + 2 + 6 * 7 + 4
    assert not TRAINING & (HELD_OUT | DEVELOPMENT)


def test_only_voices_of_training_speak() -> None:
    rng = random.Random(4)
    manners = [Manner.drawn(rng) for _ in range(3_000)]
    spoken = {f"kokoro:{name}" for manner in manners for name in manner.voices}
    spoken |= {f"kokoro:{manner.spoken_like}" for manner in manners if manner.spoken_like}
    spoken |= {robot("seven", rng, "out.wav")[0] for _ in range(2_000)}
    spoken |= {f"pico:{name}" for name in pico.VOICES}

    assert spoken == TRAINING


def test_a_robot_speaks_by_the_voice_it_is_named_for() -> None:
    rng = random.Random(2)

    for _ in range(50):
        voice, command = robot("seven", rng, "out.wav")
        assert command[0] == voice.partition(":")[0]
        assert voice.partition(":")[2] in command
        assert {"seven", "out.wav"} <= set(command)


def test_the_shares_of_a_mixture_are_all_of_it_and_britons_speak_british() -> None:
    rng = random.Random(1)

    for manner in (Manner.drawn(rng) for _ in range(500)):
        assert sum(manner.voices.values()) == pytest.approx(1)
        if all(name.startswith("b") for name in manner.voices):
            assert manner.is_british
        if all(name.startswith("a") for name in manner.voices):
            assert not manner.is_british


def test_what_is_written_for_a_voice_is_what_it_is_said_to_say() -> None:
    # Words of sounds.txt: CMUdict is not needed to test.
    words = ["tailstock", "and", "thou", "hundred"]
    rng = random.Random(3)

    for _ in range(100):
        symbols, phones = written(words, Manner.drawn(rng), rng)
        assert len(symbols.split()) == len(words)
        for word, spelling in zip(words, phones, strict=True):
            assert spelling in spellings(word)


# What they said, kept.


def test_speech_is_trimmed_to_a_little_around_it_and_brought_to_a_level() -> None:
    quiet = np.zeros(RATE_HZ)
    tone = 0.1 * np.sin(np.arange(RATE_HZ) / 5)

    samples = trimmed(np.concatenate([quiet, tone, quiet]))

    assert samples is not None
    assert len(samples) == pytest.approx(1.25 * RATE_HZ, abs=10)
    assert np.abs(samples).max() == pytest.approx(0.7 * 32_767, abs=20)


@pytest.mark.parametrize("sound", [np.zeros(0), np.zeros(RATE_HZ), np.eye(1, RATE_HZ)[0]])
def test_silence_and_a_click_are_no_speech(
    sound: np.ndarray[tuple[int], np.dtype[np.float64]],
) -> None:
    assert trimmed(sound) is None


def test_a_shelf_gives_back_what_was_put_on_it(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    spoken = [
        Utterance(
            rng.integers(-9, 9, length).astype(np.int16),
            ("four", "oh"),
            ((("F", "AO", "R"), ("F", "AO")), (("OW",),)),
            voice,
        )
        for length, voice in [(300, "kokoro:af_sky"), (0, "a person"), (70, "a person")]
    ]

    assert write_shelf(tmp_path / "shelf", spoken) == 3

    back = list(read_shelf(tmp_path / "shelf"))
    assert [each.samples.tolist() for each in back] == [each.samples.tolist() for each in spoken]
    assert [(each.words, each.ways, each.voice) for each in back] == [
        (each.words, each.ways, each.voice) for each in spoken
    ]


def test_accents_are_by_voices_of_training() -> None:
    rng = random.Random(5)
    manners = [Manner.with_accent(accent, rng) for accent in accents().values() for _ in range(200)]

    assert {f"kokoro:{name}" for manner in manners for name in manner.voices} <= TRAINING
    assert all(sum(manner.voices.values()) == pytest.approx(1) for manner in manners)


@pytest.mark.parametrize("name", sorted(accents()))
def test_an_accent_changes_phones_that_there_are(name: str) -> None:
    assert set(accents()[name].phones) <= set(PHONES)


def test_what_is_said_with_an_accent_is_told_as_english() -> None:
    _, symbols, ways = with_accents(["three", "thou"], random.Random(6))

    assert len(symbols.split()) == 2
    assert ways == (spellings("three"), spellings("thou"))


def test_an_accent_is_heard_in_the_phones_it_changes_and_in_no_others() -> None:
    rng = random.Random(7)
    accent = Accent(share=1, hardened=100, voices=["ff_siwis"], phones={"TH": "s", "R": "ʁ"})

    assert accent.written(["thou", "hundred"], rng) in ("sˈW hˈʌndʁət", "sˈW hˈʌndəɹt")
    assert Accent(1, 0, [], {"HH": "-"}).written(["hundred"], rng).startswith("ˈʌnd")


def test_a_voice_of_another_language_is_given_its_own_phones() -> None:
    rng = random.Random(8)

    assert pico.written(["thou", "and"], "en-US", rng) == "thou and"
    for _ in range(50):
        italian = pico.written(["thou", "hundred"], "it-IT", rng)
        assert italian.startswith("<phoneme ph='t a w'/> <phoneme ph='")
        assert "h" not in italian.rpartition("ph=")[2].removeprefix("'")


@pytest.mark.parametrize("voice", sorted(set(pico.VOICES) - {"en-US"}))
def test_every_phone_can_be_said_by_every_voice(voice: str) -> None:
    assert pico.phones()[voice].keys() == set(PHONES)
