"""What recorded people say, by a small English recogniser, and whether it is sure of it.

It is the model tiny-en inside moonshine-voice 0.0.59, run here by onnxruntime, because the
package's own interface tells no probabilities. A second of speech takes 0.02 to 0.05 s.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.pronounce import spellings
from grammars.acoustic.recipe.speech import RATE_HZ

# Of the model: the marks of beginning and end, the sizes of what a step hands to the next, and
# how many pieces of words people say in a second at most. Source: its files; the last from the
# model's makers, from memory.
_BEGIN, _END = 1, 2
_HEADS, _HEAD_SIZE = 8, 36
_PIECES_PER_S = 6.5
_AT_ONCE = 32

# A transcript whose pieces are less probable than this, in the mean of the logarithms, is too
# often wrong; of one or two words, which have no context, more is asked. Chosen by reading them.
_SURE, _SURE_OF_FEW, _FEW = -0.55, -0.35, 2
# Faster or slower than anybody speaks.
_PHONES_PER_S = (2.5, 24.0)

# fmt: off
_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_SHORT = {
    "mr.": "mister", "mrs.": "missus", "dr.": "doctor", "st.": "saint", "ok": "okay",
    "mm-hmm": "", "uh-huh": "",
}
# fmt: on


@dataclass(frozen=True, slots=True)
class Transcript:
    """What was understood, how sure that is, and whether it came to an end.

    Args:
        text: As one writes English.
        log_probability: The mean over its pieces, natural logarithm.
        is_whole: Whether the last piece was the mark of the end.
    """

    text: str
    log_probability: float
    is_whole: bool


def sure_words(transcript: Transcript, samples: int) -> list[str] | None:
    """Return the words of a transcript, or None if they may not be what was said."""
    words = plain_words(transcript.text)
    if not words or not transcript.is_whole:
        return None
    least = _SURE_OF_FEW if len(words) <= _FEW else _SURE
    ways = [spellings(word) for word in words]
    if transcript.log_probability < least or not all(ways):
        return None
    per_s = sum(len(way[0]) for way in ways) / (samples / RATE_HZ)
    return words if _PHONES_PER_S[0] < per_s < _PHONES_PER_S[1] else None


def plain_words(text: str) -> list[str] | None:
    """Return the words of written English as they are said; None where that is not plain."""
    plain = text.lower().replace("’", "'").replace("-", " ")
    if re.search(r"[^a-z0-9\s'.,!?;:\"()]", plain):
        return None
    plain = " ".join(_SHORT.get(word.strip(',!?;:"()'), word) for word in plain.split())
    plain = re.sub(r'[,!?;:"()]|\.(?!\d)', " ", plain)
    # A price, a decimal, an ordinal, a long number: said in more ways than one.
    if re.search(r"\d\.|\d[a-z]|\d{5}", plain):
        return None
    plain = re.sub(r"\d+", lambda figures: f" {number_in_words(int(figures[0]))} ", plain)
    return [word if word.startswith("'") else word.strip("'") for word in plain.split()]


def number_in_words(number: int) -> str:
    """Return a number to 999 in words, and a longer one by its digits."""
    if number < 20:
        return _ONES[number]
    if number < 100:
        rest = f" {_ONES[number % 10]}" if number % 10 else ""
        return _TENS[number // 10 - 2] + rest
    if number < 1000:
        rest = f" {number_in_words(number % 100)}" if number % 100 else ""
        return f"{_ONES[number // 100]} hundred{rest}"
    return " ".join(_ONES[int(digit)] for digit in str(number))


def transcripts(sounds: Sequence[NDArray[np.floating]]) -> list[Transcript]:
    """Return what is said in sounds at 16 kHz, in their order."""
    if not sounds:
        return []
    # Side by side those of about one length, for the shorter are padded.
    order = sorted(range(len(sounds)), key=lambda number: len(sounds[number]))
    found: dict[int, Transcript] = {}
    model = _Model()
    for start in range(0, len(order), _AT_ONCE):
        batch = order[start : start + _AT_ONCE]
        found.update(zip(batch, model.transcribed([sounds[n] for n in batch]), strict=True))
    return [found[number] for number in range(len(sounds))]


class _Model:
    """An encoder, and a decoder that takes the likeliest piece of a word each time."""

    def __init__(self) -> None:
        import onnxruntime

        folder = resources.files("moonshine_voice") / "assets" / "tiny-en"
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1

        def session(name: str) -> Any:
            return onnxruntime.InferenceSession(str(folder / name), options)

        self._encoder = session("encoder_model.ort")
        self._decoder = session("decoder_model_merged.ort")
        self._pieces = list(pieces((folder / "tokenizer.bin").read_bytes()))
        self._inputs = [each.name for each in self._decoder.get_inputs()]
        self._outputs = [each.name for each in self._decoder.get_outputs()]

    def transcribed(self, sounds: Sequence[NDArray[np.floating]]) -> list[Transcript]:
        windows, longest = len(sounds), max(map(len, sounds))
        heard = np.zeros((windows, longest), np.float32)
        mask = np.zeros((windows, longest), np.int64)
        for row, sound in enumerate(sounds):
            heard[row, : len(sound)], mask[row, : len(sound)] = sound, 1
        (encoded,) = self._encoder.run(None, {"input_values": heard, "attention_mask": mask})
        nothing = np.zeros((windows, _HEADS, 0, _HEAD_SIZE), np.float32)
        past = {name: nothing for name in self._inputs if name.startswith("past")}
        last = np.full(windows, _BEGIN, np.int64)
        taken: list[list[int]] = [[] for _ in sounds]
        logs: list[list[float]] = [[] for _ in sounds]
        ended = np.zeros(windows, bool)
        for step in range(int(longest / RATE_HZ * _PIECES_PER_S) + 6):
            given = {
                "encoder_attention_mask": mask,
                "encoder_hidden_states": encoded,
                "input_ids": last[:, None],
                "use_cache_branch": np.array([step > 0]),
                **past,
            }
            known = {name: value for name, value in given.items() if name in self._inputs}
            scores, *handed_on = self._decoder.run(None, known)
            scores = scores[:, -1]
            last = scores.argmax(axis=1).astype(np.int64)
            best = scores.max(axis=1)
            log = -np.log(np.exp(scores - best[:, None]).sum(axis=1))
            for row in np.flatnonzero(~ended).tolist():
                logs[row].append(float(log[row]))
                if last[row] != _END:
                    taken[row].append(int(last[row]))
            ended |= last == _END
            if ended.all():
                break
            for name, value in zip(self._outputs[1:], handed_on, strict=True):
                # What comes of the encoder is handed on once.
                if step == 0 or ".encoder." not in name:
                    past[name.replace("present", "past_key_values")] = value
        return [
            Transcript(self._text(numbers), float(np.mean(each)), bool(end))
            for numbers, each, end in zip(taken, logs, ended, strict=True)
        ]

    def _text(self, numbers: Sequence[int]) -> str:
        joined = b"".join(self._pieces[number] for number in numbers)
        return joined.decode("utf-8", "replace").replace("▁", " ").strip()


def pieces(tokenizer: bytes) -> Iterator[bytes]:
    """Return the pieces of words: each after its length, in one byte or two.

    <0x41> stands for the byte of that number.
    """
    at = 0
    while at < len(tokenizer):
        length, at = tokenizer[at], at + 1
        if length >= 128:
            length, at = tokenizer[at] * 128 + length - 128, at + 1
        piece = tokenizer[at : at + length]
        number = re.fullmatch(rb"<0x(..)>", piece)
        yield bytes([int(number[1], 16)]) if number else piece
        at += length
