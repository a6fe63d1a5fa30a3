"""The sounds the network tells apart, and their numbers in the graphs.

The network puts out one number per ARPAbet phone and one for blank, "nothing new". A word is
written as CTC spells it: each phone once, blanks allowed between. For the decoder that is a
hidden Markov model: a phone is a state of its own and then, if a blank follows, a second
state with the blank's output. Kaldi's phone numbers stand for a phone and its place in a
word, so that word ends are known; number 1 is silence, which is blank too.
"""

import math
import struct

# fmt: off
PHONES = (
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY",
    "F", "G", "HH", "IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY",
    "P", "R", "S", "SH", "T", "TH", "UH", "UW", "V", "W", "Y", "Z", "ZH",
)
# fmt: on

# Outputs of the network: 0 is blank, then the phones in this order.
BLANK = 0
OUTPUT = {phone: number for number, phone in enumerate(PHONES, start=1)}

BEGIN, INSIDE, END, ALONE = "BIES"
PLACES = {BEGIN: "begin", INSIDE: "internal", END: "end", ALONE: "singleton"}

SILENCE = 1
PHONE_ID = {
    key: number
    for number, key in enumerate(
        ((phone, place) for phone in PHONES for place in PLACES), start=SILENCE + 1
    )
}

# For each state: its output's place in the topology, and (next state, probability).
_SILENCE_STATES = [(0, [(0, 0.5), (1, 0.5)]), (-1, [])]
_PHONE_STATES = [(0, [(0, 0.5), (1, 0.25), (2, 0.25)]), (1, [(1, 0.5), (2, 0.5)]), (-1, [])]

# (phone number, state, output), in the order the decoder numbers them.
_TRIPLES = sorted(
    [(SILENCE, 0, BLANK)]
    + [
        triple
        for (phone, _), number in PHONE_ID.items()
        for triple in ((number, 0, OUTPUT[phone]), (number, 1, BLANK))
    ]
)


def _numbered() -> tuple[dict[tuple[int, int, int], int], list[float]]:
    ids: dict[tuple[int, int, int], int] = {}
    log_probabilities = [0.0]  # transition ids begin at 1
    for number, state, _ in _TRIPLES:
        states = _SILENCE_STATES if number == SILENCE else _PHONE_STATES
        for target, probability in states[state][1]:
            ids[number, state, target] = len(ids) + 1
            log_probabilities.append(math.log(probability))
    return ids, log_probabilities


# From (phone number, state, next state) to the label on the decoder's arcs.
TRANSITION_ID, _LOG_PROBABILITIES = _numbered()


def transition_model() -> bytes:
    """Return Kaldi's binary <TransitionModel> of this topology."""
    numbers = [SILENCE, *PHONE_ID.values()]
    out = b"<TransitionModel> <Topology> " + _ints(numbers)
    out += _ints([-1] + [0 if number == SILENCE else 1 for number in numbers]) + integer(2)
    for states in (_SILENCE_STATES, _PHONE_STATES):
        out += integer(len(states))
        for output, arcs in states:
            out += integer(output) + integer(len(arcs))
            for target, probability in arcs:
                out += integer(target) + b"\x04" + struct.pack("<f", probability)
    out += b"</Topology> <Triples> " + integer(len(_TRIPLES))
    out += b"".join(integer(value) for triple in _TRIPLES for value in triple)
    out += b"</Triples> <LogProbs> FV " + integer(len(_LOG_PROBABILITIES))
    out += struct.pack(f"<{len(_LOG_PROBABILITIES)}f", *_LOG_PROBABILITIES)
    return out + b"</LogProbs> </TransitionModel> "


def integer(value: int) -> bytes:
    """Return a whole number in Kaldi's binary form."""
    return b"\x04" + struct.pack("<i", value)


def _ints(values: list[int]) -> bytes:
    return integer(len(values)) + struct.pack(f"<{len(values)}i", *values)
