"""Sound files: plain WAV in and out. Other formats are refused by name."""

import struct
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.errors import BadSound
from assistant.ports import Sound

PCM = 1
# Samples as PCM, announced in the longer header that 24-bit files carry.
EXTENSIBLE = 0xFFFE
# From the telephone's to the highest that sound cards offer.
RATES_HZ = range(8_000, 192_001)


def read_sound(path: Path) -> Sound:
    """Return a WAV file of 8, 16, 24 or 32-bit samples as mono 16-bit sound.

    Channels are mixed equally; the rate is kept.

    Raises:
        BadSound: The file is missing, or is no such WAV file.
    """
    try:
        data = path.read_bytes()
    except OSError as fault:
        raise BadSound(path.name, (fault.strerror or "it cannot be read").lower()) from None
    if data[:4] != b"RIFF" or data[8:12] != b"WAVE":
        raise BadSound(path.name, "it is not a WAV file")
    # Read by hand: before Python 3.12 the wave module refuses the longer header, and it
    # trusts a length that a writer to a pipe could not know.
    chunks = dict(_chunks(data))
    if len(chunks.get(b"fmt ", b"")) < 16 or b"data" not in chunks:
        raise BadSound(path.name, "its header is cut short")
    form, channels, rate_hz, _, _, bits = struct.unpack_from("<HHIIHH", chunks[b"fmt "])
    if form == EXTENSIBLE and len(chunks[b"fmt "]) >= 26:
        (form,) = struct.unpack_from("<H", chunks[b"fmt "], 24)
    if form != PCM or bits not in (8, 16, 24, 32) or not channels:
        raise BadSound(path.name, "its samples are not plain 8, 16, 24 or 32-bit numbers")
    if rate_hz not in RATES_HZ:
        raise BadSound(path.name, f"its rate of {rate_hz} Hz is no rate of speech")
    return Sound(rate_hz, _mono(_samples(chunks[b"data"], bits), channels))


def write_sound(path: Path, sound: Sound) -> None:
    """Write a sound as a mono 16-bit WAV file."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(sound.rate_hz)
        file.writeframes(sound.samples)


def _chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 12
    while at + 8 <= len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        yield name, data[at + 8 : at + 8 + size]
        at += 8 + size + size % 2  # a chunk of odd length is padded


def _samples(data: bytes, bits: int) -> npt.NDArray[np.float64]:
    """Return the samples on the scale of 16 bits."""
    width = bits // 8
    data = data[: len(data) // width * width]
    if bits == 8:  # the only unsigned width
        return (np.frombuffer(data, np.uint8).astype(np.float64) - 128) * 256
    # The upper two bytes are the 16-bit sample.
    upper = np.frombuffer(data, np.uint8).reshape(-1, width)[:, width - 2 :]
    return np.ascontiguousarray(upper).view("<i2")[:, 0].astype(np.float64)


def _mono(samples: npt.NDArray[np.float64], channels: int) -> bytes:
    whole = samples[: len(samples) // channels * channels]
    mono: npt.NDArray[np.int16] = whole.reshape(-1, channels).mean(axis=1).round().astype("<i2")
    return mono.tobytes()
