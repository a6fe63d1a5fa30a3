"""Print how long the answer takes, and what the running assistant costs.

    python -m tests.benchmarks.latency_bench [--utterances 20]

Needs PulseAudio, and five minutes. The real path: a voice speaks at real pace into the microphone
of a sound card made of software, 10 ms at a time; the assistant listens to it through sounddevice
and answers into the card's sink, which is recorded as it plays. Measured is from the last sound of
the last word to the first sound of the answer, with the 10 to 20 ms of the recording in it.

By pedal, a simulated contact opens with the last sound. Openly, our word comes first and the
model's pause ends the utterance. Start, memory and idle time are of `setover run` as a service.
Say with the figures what else the machine was doing: its load is printed.
"""

import argparse
import contextlib
import os
import queue
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from statistics import median, quantiles

import numpy as np
from gpiozero.pins.mock import MockFactory

from assistant.app import App, Bench
from assistant.settings import from_toml
from hardware.gpio import read_pins
from hardware.listening import Listening
from hardware.pedal import GpioPedal
from hardware.portaudio import look_again
from hardware.recogniser import VoskRecogniser
from hardware.returning import (
    ReturningMicrophone,
    ReturningSpeaker,
    plugged_in_microphone,
    plugged_in_speaker,
)
from hardware.sounds import TAIL_S, at_rate
from hardware.voice import PyttsxSynthesiser
from tests.hardware.conftest import MODEL

RATE_HZ = 16_000
STEP_S = 0.01
STEP = round(STEP_S * RATE_HZ)
# A quiet room, -60 dB.
ROOM_RMS = 33
# Of 32,768: the voice against the nothing that the sink plays otherwise.
AUDIBLE = 100
IDLE_S = 20.0
ANSWERED_WITHIN_S = 5.0

SAID = (
    "number two morse taper",
    "between balls one forty two point five",
    "which way",
    "where are we",
    "one in twenty",
    "number three morse taper",
    "between balls one sixty",
    "say that again",
)
SETTINGS = "[head]\npitch_mm = 0.5\ndivisions = 50\n"


class Card:
    """A sound card of software: a microphone to speak into, and a sink that is recorded."""

    def __init__(self, home: Path) -> None:
        self._pipe = home / "mic.pipe"
        self._server = subprocess.Popen(
            [
                *("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1"),
                f"--log-target=file:{home}/log",
                "--load=module-native-protocol-unix",
                f"--load=module-pipe-source source_name=mic file={self._pipe} "
                "format=s16le rate=16000 channels=1",
                "--load=module-null-sink sink_name=spk rate=48000 channels=1",
            ],
            stderr=subprocess.DEVNULL,
        )
        while not ((home / "native").exists() and self._pipe.exists()):
            time.sleep(0.01)
        self._to_say: queue.SimpleQueue[tuple[bytes, threading.Event]] = queue.SimpleQueue()
        self._ended = threading.Event()
        # When each audible stretch of 10 ms came out of the sink.
        self._audible: queue.SimpleQueue[float] = queue.SimpleQueue()
        self._recorder = subprocess.Popen(
            [
                *("parec", "-d", "spk.monitor", "--latency-msec=10", "--raw"),
                *("--rate=16000", "--channels=1", "--format=s16le"),
            ],
            stdout=subprocess.PIPE,
        )
        self._threads = [threading.Thread(target=each) for each in (self._talk, self._record)]
        for thread in self._threads:
            thread.start()

    def say(self, samples: bytes) -> None:
        """Speak, and return with the last sound."""
        said = threading.Event()
        self._to_say.put((samples, said))
        said.wait()

    def heard_after(self, time_s: float) -> float | None:
        """Return when the first sound came out after a time; None when none comes."""
        while True:
            try:
                heard_s = self._audible.get(timeout=ANSWERED_WITHIN_S)
            except queue.Empty:
                return None
            if heard_s > time_s:
                return heard_s

    def wait_for_silence(self) -> None:
        """Return when nothing has come out for a second."""
        with contextlib.suppress(queue.Empty):
            while True:
                self._audible.get(timeout=1.0)

    def close(self) -> None:
        self._ended.set()
        self._recorder.terminate()
        for thread in self._threads:
            thread.join()
        self._server.terminate()
        self._server.wait()

    def _talk(self) -> None:
        noise, saying, said = np.random.default_rng(1), np.zeros(0, "<i2"), threading.Event()
        with self._pipe.open("r+b", buffering=0) as pipe:
            next_s = time.monotonic()
            while not self._ended.is_set():
                if not len(saying) and not self._to_say.empty():
                    samples, said = self._to_say.get()
                    saying = np.frombuffer(samples, "<i2")
                room = noise.normal(scale=ROOM_RMS, size=STEP)
                room[: len(saying)] += saying[:STEP]
                saying = saying[STEP:]
                next_s += STEP_S
                time.sleep(max(0.0, next_s - time.monotonic()))
                pipe.write(room.clip(-32_768, 32_767).astype("<i2").tobytes())
                if not len(saying):
                    said.set()

    def _record(self) -> None:
        assert self._recorder.stdout is not None
        while block := self._recorder.stdout.read(2 * STEP):
            if np.abs(np.frombuffer(block, "<i2").astype(int)).max() > AUDIBLE:
                self._audible.put(time.monotonic())


@contextmanager
def sound_card() -> Iterator[tuple[Card, Path]]:
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        home.chmod(0o700)
        for name in ("XDG_RUNTIME_DIR", "PULSE_RUNTIME_PATH", "HOME", "XDG_DATA_HOME"):
            os.environ[name] = folder
        os.environ.pop("PULSE_SERVER", None)
        with closing(Card(home)) as card:
            look_again("speaker")
            yield card, home


class Screen:
    """Keeps what is told."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def show(self, lines: Sequence[str], view: Sequence[str] = ()) -> None:
        """Not looked at."""

    def hears(self, begun_with: str) -> None:
        """Not looked at."""

    def tell(self, words: str) -> None:
        self.told.append(words)


def latencies_ms(card: Card, count: int, openly: bool) -> list[float]:
    """Return how long each of so many answers took; one that never came is left out."""
    settings = from_toml(f"{SETTINGS}[parts]\nlisten = '{'open' if openly else 'pedal'}'\n")
    operator = PyttsxSynthesiser("en-us", 150)
    spoken = [
        at_rate(operator.sound(f"{settings.parts.called} {said}".strip()), RATE_HZ).samples
        for said in SAID
    ]
    operator.close()
    tail = 2 * round(TAIL_S * RATE_HZ)
    with bench(openly) as (parts, stand):
        app = App(parts, settings.first_job(settings.parts.called))
        running = threading.Thread(target=app.run)
        running.start()
        card.heard_after(time.monotonic())  # the greeting
        found = []
        for number in range(count):
            if openly:
                card.wait_for_silence()
            else:
                stand(True)
                time.sleep(0.5)
            card.say(spoken[number % len(SAID)][:-tail])
            ended_s = time.monotonic()
            if not openly:
                stand(False)
            answered_s = card.heard_after(ended_s)
            if answered_s is not None:
                found.append((answered_s - ended_s) * 1000)
        app.take(None)
        running.join()
    return found


@contextmanager
def bench(openly: bool) -> Iterator[tuple[Bench, Callable[[bool], None]]]:
    """Give the parts, and what moves the pedal."""
    pins, screen = MockFactory(), Screen()
    pin = pins.pin(read_pins().pedal)
    with (
        closing(VoskRecogniser(MODEL)) as recogniser,
        closing(PyttsxSynthesiser("en-gb", 165)) as synthesiser,
        closing(ReturningSpeaker(lambda: plugged_in_speaker(None), screen.tell)) as speaker,
        closing(ReturningMicrophone(lambda: plugged_in_microphone(None), screen.tell)) as ears,
        closing(GpioPedal(read_pins().pedal, pins)) as pedal,
    ):
        parts = Bench(
            screen,
            time.monotonic,
            recogniser=recogniser,
            ears=Listening(recogniser, openly),
            microphone=ears,
            synthesiser=synthesiser,
            speaker=speaker,
            pedal=pedal,
        )
        yield parts, lambda down: (pin.drive_low if down else pin.drive_high)()


def service(card: Card, folder: Path) -> None:
    """Print the start, the memory and the idle time of the whole assistant."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(folder / "notify"))
        begun_s = time.monotonic()
        running = subprocess.Popen(
            [sys.executable, "-m", "assistant", "run"],
            env={**os.environ, "NOTIFY_SOCKET": str(folder / "notify")},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
        )
        assert manager.recv(100) == b"READY=1"
        ready_s = time.monotonic() - begun_s
        busy_s = sum(map(cpu_s, family(running.pid)))
        threading.Thread(target=lambda: [*iter(lambda: manager.recv(100), b"STOPPING=1")]).start()
        greeted_s = card.heard_after(begun_s)
        assert greeted_s is not None
        card.wait_for_silence()
        pids = family(running.pid)
        before_s = [*map(cpu_s, pids)]
        time.sleep(IDLE_S)
        idle = [(cpu_s(pid) - each_s) / IDLE_S for pid, each_s in zip(pids, before_s, strict=True)]
        print(f"start to ready           {ready_s:6.2f} s, {busy_s:.2f} s of processors")
        print(f"start to first sound     {greeted_s - begun_s:6.2f} s")
        print(f"memory, {len(pids)} processes      {sum(map(pss_mb, pids)):6.0f} MB")
        each = " + ".join(f"{share:.1%}" for share in idle)
        print(f"idle, listening openly   {sum(idle):6.1%} of a core ({each})")
        running.terminate()
        running.wait()


def family(pid: int) -> list[int]:
    """Return a process and all its descendants."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    return [pid, *(each for child in children for each in family(int(child)))]


def cpu_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def pss_mb(pid: int) -> float:
    """Return a process's memory, with its share of what it has in common with others."""
    text = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return next(int(line.split()[1]) for line in text.splitlines() if "Pss:" in line) / 1000


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--utterances", type=int, default=20)
    count = options.parse_args().utterances
    with sound_card() as (card, folder):
        service(card, folder)
        for openly in (False, True):
            found = latencies_ms(card, count, openly)
            print(
                f"{'openly' if openly else 'by pedal':<12} {len(found)} of {count} answered: "
                f"median {median(found):4.0f} ms, 95% {quantiles(found, n=20)[18]:4.0f}, "
                f"{min(found):.0f} to {max(found):.0f}"
            )
    print("load of the machine, 1 and 5 minutes:", *(f"{load:.1f}" for load in os.getloadavg()[:2]))


if __name__ == "__main__":
    main()
