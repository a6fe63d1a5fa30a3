"""The real voice and the real recogniser, each started once for all tests."""

from collections.abc import Iterator
from pathlib import Path

import pytest

import grammars
from hardware.recogniser import VoskRecogniser
from hardware.voice import PyttsxSynthesiser

MODEL = Path(next(iter(grammars.__path__)), "acoustic", "model")


@pytest.fixture(scope="session")
def voice() -> Iterator[PyttsxSynthesiser]:
    synthesiser = PyttsxSynthesiser("en-gb", words_per_minute=150)
    yield synthesiser
    synthesiser.close()


@pytest.fixture(scope="session")
def vosk() -> Iterator[VoskRecogniser]:
    recogniser = VoskRecogniser(MODEL)
    yield recogniser
    recogniser.close()
