"""Where in the sound each word is, so that a network can begin to learn.

python -m grammars.acoustic.recipe.align SHELF

writes SHELF.times, a line for each utterance: the seconds at which each word begins and ends,
or null. From the base model on, CTC alone stays where every output is blank; a first while of
being told frame by frame which phone is said leads away from there. pocketsphinx finds the words,
and within a word the phones are taken to be equally long: exact enough for a beginning.
"""

import argparse
import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from grammars.acoustic.recipe.export import EVERY
from grammars.acoustic.recipe.graph import Spelling
from grammars.acoustic.recipe.mfcc import Mfcc
from grammars.acoustic.recipe.phones import BLANK, OUTPUT
from grammars.acoustic.recipe.speech import RATE_HZ, Utterance, read_shelf

Times = Sequence[tuple[float, float]]

# Of an utterance that could not be aligned; learning passes over these frames.
UNKNOWN = -100
_QUIET_S = 0.2
_FRAMES_PER_S = 100


def frames_in(samples: int) -> int:
    """Return how many outputs the network has for so many samples: one in three frames."""
    front_end = Mfcc()
    frames = max(0, 1 + (samples - front_end.width) // front_end.shift)
    return -(-frames // EVERY)


def frame_labels(
    spellings: Sequence[Spelling], times: Times, labels: int, start_s: float = 0.0
) -> NDArray[np.int64]:
    """Return the output that stands for each frame: the phones in order, blank between words.

    Args:
        spellings: Of each word, the way it was said.
        times: Of each word, when it begins and ends.
        labels: How many there are to be.
        start_s: When the utterance begins.
    """
    front_end = Mfcc()
    step_s = EVERY * front_end.shift / RATE_HZ
    middle_s = front_end.width / 2 / RATE_HZ

    def place(seconds: float) -> int:
        return int(np.clip(round((start_s + seconds - middle_s) / step_s), 0, labels))

    found = np.full(labels, BLANK, np.int64)
    for spelling, (begin_s, end_s) in zip(spellings, times, strict=True):
        edges = np.linspace(begin_s, end_s, len(spelling) + 1)
        for phone, phone_begin_s, phone_end_s in zip(spelling, edges, edges[1:], strict=False):
            at = place(phone_begin_s)
            found[at : max(place(phone_end_s), at + 1)] = OUTPUT[phone]
    return found


def word_times(utterance: Utterance, decoder: Any) -> Times | None:
    """Return when each word is said, by a Decoder of pocketsphinx; None where it finds no way."""
    for word, ways in zip(utterance.words, utterance.ways, strict=True):
        if decoder.lookup_word(word) is None:
            decoder.add_word(word, " ".join(ways[0]), True)
    quiet = bytes(2 * round(_QUIET_S * RATE_HZ))
    try:
        decoder.set_align_text(" ".join(utterance.words))
        decoder.start_utt()
        decoder.process_raw(quiet + utterance.samples.tobytes() + quiet, full_utt=True)
        decoder.end_utt()
    except RuntimeError:
        return None
    # What is found beside words is silence, <sil>, or noise, [NOISE].
    found = [each for each in decoder.seg() or () if each.word[0] not in "<["]
    if len(found) != len(utterance.words):
        return None
    return [
        (
            each.start_frame / _FRAMES_PER_S - _QUIET_S,
            (each.end_frame + 1) / _FRAMES_PER_S - _QUIET_S,
        )
        for each in found
    ]


def read_times(shelf: Path) -> Iterator[Times | None]:
    """Return what was written for each utterance of a shelf."""
    for line in shelf.with_suffix(".times").read_text(encoding="utf-8").splitlines():
        yield json.loads(line)


def main() -> None:
    """Align a shelf."""
    from pocketsphinx import Decoder

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("shelf", type=Path)
    shelf: Path = parser.parse_args().shelf
    decoder = Decoder(samprate=RATE_HZ, lm=None, loglevel="FATAL")
    times = [word_times(utterance, decoder) for utterance in read_shelf(shelf)]
    lines = (json.dumps(each) + "\n" for each in times)
    shelf.with_suffix(".times").write_text("".join(lines), encoding="utf-8")
    print(sum(each is not None for each in times), "of", len(times), "aligned")


if __name__ == "__main__":
    main()
