"""Recorded people: out of the games' files, and into words that are sure."""

import struct

import numpy as np
import pytest

from grammars.acoustic.recipe.people import (
    in_list,
    prompt_texts,
    queen_speech,
    sky_speech,
    unpacked,
)
from grammars.acoustic.recipe.speech import RATE_HZ
from grammars.acoustic.recipe.transcribe import (
    Transcript,
    number_in_words,
    pieces,
    plain_words,
    sure_words,
)


class Packer:
    """Writes what the games' compression reads: bits in words, whole bytes among them."""

    def __init__(self) -> None:
        self._bits: list[int] = []
        self._bytes: dict[int, bytes] = {}  # before which word

    def bits(self, value: int, count: int) -> None:
        self._bits += [value >> place & 1 for place in range(count)]

    def whole(self, content: bytes) -> None:
        # The reader is a whole word ahead.
        word = -(-len(self._bits) // 16)
        self._bytes[word] = self._bytes.get(word, b"") + content

    def packed(self, size: int) -> bytes:
        padded = self._bits + [0] * 32
        out = b"RNC\1" + struct.pack(">IIHHBB", size, 0, 0, 0, 0, 1)
        for word in range(len(padded) // 16):
            bits = padded[16 * word : 16 * word + 16]
            value = sum(bit << place for place, bit in enumerate(bits))
            out += self._bytes.get(word, b"") + struct.pack("<H", value)
        return out


def packed(*chunks: tuple[bytes, int, int, bytes]) -> bytes:
    """Return for each chunk a start, a repetition of what was, and an end; numbers below 16."""
    packer = Packer()
    packer.bits(0, 2)

    def number(value: int) -> None:
        meaning = value.bit_length()
        packer.bits(int(f"{meaning:03b}"[::-1], 2), 3)
        packer.bits(value - (1 << max(0, meaning - 1)) if meaning > 1 else 0, max(0, meaning - 1))

    for start, distance, length, end in chunks:
        for _ in range(3):
            # Codes of three bits for what stands for 0 to 4: 0, 1, 2-3, 4-7 and 8-15.
            packer.bits(5, 5)
            for _ in range(5):
                packer.bits(3, 4)
        packer.bits(2, 16)
        number(len(start))
        packer.whole(start)
        number(distance - 1)
        number(length - 2)
        number(len(end))
        packer.whole(end)
    return packer.packed(sum(len(start) + length + len(end) for start, _, length, end in chunks))


@pytest.mark.parametrize(
    ("start", "distance", "length", "end"),
    [
        (b"a", 1, 7, b"b"),
        (b"so much", 3, 4, b" more"),
        (b"0123456789abcde", 15, 15, b"the last bytes."),
        (bytes(range(128, 140)), 2, 9, b"\0"),
    ],
)
def test_what_the_games_packed_is_unpacked(
    start: bytes, distance: int, length: int, end: bytes
) -> None:
    repeated = bytearray(start)
    for _ in range(length):
        repeated.append(repeated[-distance])

    whole = bytes(repeated) + end
    assert unpacked(packed((start, distance, length, end))) == whole
    assert unpacked(packed((start, distance, length, end), (b"again", 5, 5, b"!"))) == (
        whole + b"againagain!"
    )


@pytest.mark.parametrize("kept", [21, 24, 30])
def test_what_is_cut_short_is_not_unpacked(kept: int) -> None:
    whole = packed((b"0123456789abcde", 15, 15, b"the last bytes."))

    with pytest.raises(ValueError, match="damaged"):
        unpacked(whole[:kept])


def test_the_speech_of_the_sky_is_found_by_its_index() -> None:
    samples = [b"\x80\x90\xa0", b"\x70\x60"]
    squeezed = packed((b"voice", 5, 5, b"!"))
    head = b"." * 22
    disk = bytearray(200)
    disk[8:33] = head + samples[0]
    disk[40:64] = head + samples[1]
    disk[96 : 96 + 22 + len(squeezed)] = head + squeezed
    # 96 is also 6 times 16.
    entries = [
        (50_001, 8, 25),
        (49_999, 0, 8),
        (60_000, 40, 24),
        (50_002, 1 << 23 | 6, 22 + len(squeezed)),
    ]
    index = struct.pack("<I", len(entries)) + b"".join(
        struct.pack("<H", number) + at.to_bytes(3, "little") + size.to_bytes(3, "little")
        for number, at, size in entries
    )

    assert list(sky_speech(index, bytes(disk))) == [
        ("50001", samples[0]),
        ("60000", samples[1]),
        ("50002", b"voicevoice!"),
    ]


def test_the_speech_of_the_queen_is_found_by_its_list() -> None:
    files = {b"C1.SB": b"mp3 one", b"TEXT.DOG": b"words", b"C2.SB": b"mp3 two"}
    start = 10 + 21 * (1 + len(files))
    entries, contents = b"", b""
    for name, content in files.items():
        at = start + len(contents)
        entries += struct.pack(">12sBII", name, 0, at, len(content))
        contents += content
    # The mark is the first file's, in the place of its name.
    marked = struct.pack(">12sBII", b"020001P2.DAT", 0, 0, 0)
    archive = b"." * 8 + struct.pack(">H", len(files) + 1) + marked + entries

    assert list(queen_speech(archive + contents)) == [("C1", b"mp3 one"), ("C2", b"mp3 two")]


def test_prompts_are_those_that_are_speech_alone() -> None:
    listing = "; a comment: no\nvm-goodbye: Goodbye!\nbeep: (this is a beep)\nx: [tone]\nnothing\n"

    assert list(prompt_texts(listing)) == [("vm-goodbye", "Goodbye!")]


def test_recordings_of_a_list_follow_one_another() -> None:
    entries = [{"n": 5, "text": "yes"}, {"n": 7, "said": {"drink": "Iced coffee", "size": "large"}}]

    first, second = in_list(np.arange(12.0), entries, "orders")

    assert (first.text, first.key_words) == ("yes", ())
    assert (second.text, second.key_words) == ("", ("iced", "coffee", "large"))
    assert [*first.sound, *second.sound] == list(range(12))
    assert len(first.sound) == 5


# Words.


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Well, it's all right.", "well it's all right"),
        ("Mr. Smith has 42 dogs!", "mister smith has forty two dogs"),
        ("Room 101 - 1999", "room one hundred one one nine nine nine"),
        ("'Cause it's 5:30 now", "'cause it's five thirty now"),
        ("a well-known thing", "a well known thing"),
    ],
)
def test_written_english_is_said_in_plain_words(text: str, words: str) -> None:
    assert plain_words(text) == words.split()


@pytest.mark.parametrize("text", ["for $5", "the 3rd", "1.5 inches", "π", "a 12345"])
def test_what_can_be_said_in_several_ways_is_not_plain(text: str) -> None:
    assert plain_words(text) is None


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (0, "zero"),
        (19, "nineteen"),
        (20, "twenty"),
        (700, "seven hundred"),
        (2026, "two zero two six"),
    ],
)
def test_numbers_in_words(number: int, words: str) -> None:
    assert number_in_words(number) == words


# Words of sounds.txt; three of them are said in about a second.
THREE = "tailstock and thou"


@pytest.mark.parametrize(
    ("transcript", "seconds", "is_sure"),
    [
        (Transcript(THREE, -0.5, is_whole=True), 1.0, True),
        (Transcript(THREE, -0.6, is_whole=True), 1.0, False),
        (Transcript(THREE, -0.1, is_whole=False), 1.0, False),
        (Transcript(THREE, -0.1, is_whole=True), 9.0, False),
        (Transcript(THREE, -0.1, is_whole=True), 0.4, False),
        (Transcript("thou", -0.3, is_whole=True), 0.5, True),
        (Transcript("thou", -0.4, is_whole=True), 0.5, False),
        (Transcript("", 0.0, is_whole=True), 1.0, False),
    ],
)
def test_a_transcript_is_kept_if_it_is_sure_and_can_be_said_in_its_time(
    transcript: Transcript, seconds: float, is_sure: bool
) -> None:
    words = sure_words(transcript, int(seconds * RATE_HZ))

    assert words == (transcript.text.split() if is_sure else None)


def test_pieces_of_words_follow_their_lengths() -> None:
    long = b"x" * 300
    tokenizer = b"\0\2ab\6<0x41>" + bytes([300 % 128 + 128, 300 // 128]) + long

    assert list(pieces(tokenizer)) == [b"", b"ab", b"A", long]
