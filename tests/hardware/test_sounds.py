"""Sound files in and out, blocks, rates."""

import math
import struct
import wave
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import BadSound, OutOfRange
from assistant.ports import Sound
from hardware.sound_files import read_sound, write_sound
from hardware.sounds import at_loudness, at_rate, blocks, trimmed

sounds = st.builds(
    lambda rate_hz, samples: Sound(rate_hz, struct.pack(f"<{len(samples)}h", *samples)),
    st.sampled_from([8_000, 11_025, 16_000, 22_050, 44_100, 48_000]),
    st.lists(st.integers(-32_768, 32_767), max_size=300),
)


def wav(
    form: int, channels: int, rate_hz: int, bits: int, samples: bytes, tail: bytes = b""
) -> bytes:
    """Return a WAV file, by the layout of the RIFF/WAVE description of 1991; from memory."""
    size = channels * bits // 8
    header = struct.pack("<HHIIHH", form, channels, rate_hz, rate_hz * size, size, bits) + tail
    body = b"WAVE"
    for name, chunk in ((b"fmt ", header), (b"LIST", b"odd"), (b"data", samples)):
        body += name + struct.pack("<I", len(chunk)) + chunk + b"\0" * (len(chunk) % 2)
    return b"RIFF" + struct.pack("<I", len(body)) + body


@given(sounds)
def test_a_sound_written_is_read_back_the_same(
    tmp_path_factory: pytest.TempPathFactory, sound: Sound
) -> None:
    path = tmp_path_factory.getbasetemp() / "back.wav"
    write_sound(path, sound)

    assert read_sound(path) == sound


@pytest.mark.parametrize(
    ("bits", "samples"),
    [
        (8, bytes([128, 192, 0])),
        (16, struct.pack("<3h", 0, 16_384, -32_768)),
        (24, b"\0\0\0" + b"\0\0\x40" + b"\0\0\x80"),
        (32, struct.pack("<3i", 0, 1 << 30, -(1 << 31))),
    ],
)
@pytest.mark.parametrize("channels", [1, 2])
def test_every_width_and_two_channels_are_read_on_one_scale(
    tmp_path: Path, bits: int, samples: bytes, channels: int
) -> None:
    width = bits // 8
    each = [samples[i : i + width] * channels for i in range(0, len(samples), width)]
    path = tmp_path / "a.wav"
    path.write_bytes(wav(1, channels, 44_100, bits, b"".join(each)))

    assert read_sound(path) == Sound(44_100, struct.pack("<3h", 0, 16_384, -32_768))


def test_two_channels_are_mixed_equally(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    path.write_bytes(wav(1, 2, 16_000, 16, struct.pack("<4h", 100, 300, -32_768, 32_767)))

    assert read_sound(path).samples in (struct.pack("<2h", 200, 0), struct.pack("<2h", 200, -1))


def test_the_longer_header_of_24_bit_files_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    longer = struct.pack("<HHIH", 22, 24, 0, 1) + bytes(14)
    path.write_bytes(wav(0xFFFE, 1, 48_000, 24, b"\1\2\3", longer))

    assert read_sound(path) == Sound(48_000, b"\2\3")


def test_a_length_the_writer_could_not_know_is_read_to_the_end(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    data = bytearray(wav(1, 1, 22_050, 16, b"\1\0\2\0"))
    data[-8:-4] = struct.pack("<I", 0x7FFFF000)
    path.write_bytes(data)

    assert read_sound(path) == Sound(22_050, b"\1\0\2\0")


REFUSALS = {
    "it is not a WAV file": [b"", b"OggS" + bytes(100), b"fLaC" + bytes(100), b"RIFF"],
    "its header is cut short": [
        wav(1, 1, 16_000, 16, b"")[:20],
        b"RIFF\0\0\0\0WAVE",
        wav(1, 1, 16_000, 16, b"")[:36],
    ],
    "its samples are not plain 8, 16, 24 or 32-bit numbers": [
        wav(3, 1, 16_000, 32, struct.pack("<f", 0.5)),
        wav(1, 1, 16_000, 12, b"\0\0"),
        wav(1, 0, 16_000, 16, b"\0\0"),
        wav(7, 1, 8_000, 8, b"\0"),
    ],
    "its rate of 0 Hz is no rate of speech": [wav(1, 1, 0, 16, b"\0\0")],
    "its rate of 4000 Hz is no rate of speech": [wav(1, 1, 4_000, 16, b"\0\0")],
}


@pytest.mark.parametrize(
    ("fault", "data"), [(fault, data) for fault, rows in REFUSALS.items() for data in rows]
)
def test_another_file_is_refused_in_a_sentence(tmp_path: Path, fault: str, data: bytes) -> None:
    path = tmp_path / "cut.wav"
    path.write_bytes(data)

    with pytest.raises(BadSound) as refused:
        read_sound(path)

    assert str(refused.value) == f"I cannot use the sound file cut.wav: {fault}."


def test_a_file_that_is_not_there_is_refused_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(BadSound, match=r"file a\.wav: no such file or directory\."):
        read_sound(tmp_path / "a.wav")


def test_what_is_written_can_be_read_by_others(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    write_sound(path, Sound(22_050, b"\1\0\2\0"))

    with wave.open(str(path)) as file:
        assert file.getparams()[:4] == (1, 2, 22_050, 2)
        assert file.readframes(2) == b"\1\0\2\0"


@given(sounds)
def test_the_blocks_put_together_are_the_sound(sound: Sound) -> None:
    cut = list(blocks(sound))

    assert b"".join(block.samples for block in cut) == sound.samples
    assert all(block.seconds == pytest.approx(0.05, rel=1e-2) for block in cut[:-1])


@given(sounds, st.sampled_from([8_000, 16_000, 22_050, 48_000]))
def test_another_rate_leaves_the_length_in_seconds(sound: Sound, rate_hz: int) -> None:
    assert at_rate(sound, rate_hz).seconds == pytest.approx(sound.seconds, abs=1 / rate_hz)


def test_a_tone_keeps_its_pitch_and_level_at_another_rate() -> None:
    def tone(rate_hz: int) -> Sound:
        at_s = np.arange(rate_hz) / rate_hz
        samples = 10_000 * np.sin(2 * math.pi * 440 * at_s)
        return Sound(rate_hz, samples.round().astype("<i2").tobytes())

    got, wanted = (
        np.frombuffer(sound.samples, "<i2").astype(float)
        for sound in (at_rate(tone(22_050), 48_000), tone(48_000))
    )

    # A straight line between samples misses the arc by at most (pi f / rate)**2 / 2 of it.
    assert np.abs(got - wanted)[:-3].max() < 10_000 * (math.pi * 440 / 22_050) ** 2 / 2 + 2


def test_silence_at_the_end_is_trimmed_to_a_short_tail_and_nothing_else() -> None:
    word = struct.pack("<4h", 500, -32_768, 0, 300)
    sound = Sound(1_000, word + bytes(2 * 400))

    assert trimmed(sound) == Sound(1_000, word + bytes(2 * 30))
    assert trimmed(Sound(1_000, bytes(20))) == Sound(1_000, bytes(20))
    assert trimmed(Sound(1_000, word)) == Sound(1_000, word)


@given(sounds, st.floats(0.01, 1.0))
def test_every_sample_is_played_at_its_share(sound: Sound, share: float) -> None:
    got, whole = (
        np.frombuffer(each.samples, "<i2").astype(float)
        for each in (at_loudness(sound, share), sound)
    )

    assert at_loudness(sound, share).rate_hz == sound.rate_hz
    assert np.abs(got - whole * share).max(initial=0) <= 0.5


@pytest.mark.parametrize("share", [0.0, -0.5, 1.01])
def test_a_loudness_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(OutOfRange, match="The loudness must be more than 0 and at most 1"):
        at_loudness(Sound(16_000, b""), share)
