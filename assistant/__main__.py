"""The command line: reads the settings, chooses the adapters, starts the conversation.

The only module that knows both the assistant and the hardware.
"""

import argparse
import json
import os
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from assistant.app import App, Bench
from assistant.dialogue import State, begin, resume, welcome_back
from assistant.errors import BenchError, ModelIncomplete, SettingsUnreadable
from assistant.events import Heard
from assistant.exchange import Exchange, events_of, exchange, refused
from assistant.language.attention import WORDS
from assistant.language.listening import (
    FOLDER,
    SAME_SOUND,
    Context,
    phrases,
    words,
    words_taken,
)
from assistant.ports import Journal, Keypad
from assistant.settings import Settings, from_toml, in_force

if TYPE_CHECKING:
    from hardware.check import PartReport

Part = TypeVar("Part")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status: 0, 1 for a failure, 2 for bad arguments."""
    options = _options().parse_args(arguments)
    try:
        settings = from_toml(*_settings_file(options.settings))
        status: int = options.run(options, settings)
    except BenchError as error:
        print(error, file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 0
    return status


def _options() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="setover", description=__doc__.splitlines()[0])
    parser.add_argument("--settings", type=Path, help="a settings file in TOML")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    def command(name: str, run: Callable[..., int], text: str) -> argparse.ArgumentParser:
        added = commands.add_parser(name, help=text, description=text)
        added.set_defaults(run=run)
        return added

    command("run", _run, "talk at the bench, by voice and by keys")
    typed = command("type", _type, "the same conversation from lines of standard input")
    heard = command("hear", _hear, "the same conversation from sound files, one utterance each")
    heard.add_argument("file", nargs="+", type=Path)
    for either in (typed, heard):
        either.add_argument("--json", action="store_true", help="one JSON object an utterance")
        either.add_argument("--journal", type=Path, help="keep the job in this file, and go on")
    check = command("check", _check, "what is connected, what is missing, and what to do about it")
    check.add_argument("--quiet", action="store_true", help="look only, and ask nothing of anyone")
    command("settings", _show_settings, "what is set, to what, and where; itself a settings file")
    rehearse = command("rehearse", _rehearse, "play a whole job with no lathe and no microphone")
    rehearse.add_argument(
        "--sound",
        type=Path,
        default=Path(tempfile.gettempdir(), "setover-rehearsal.wav"),
        help="the sound file both voices are written to",
    )
    return parser


def _settings_file(named: Path | None) -> tuple[str, str]:
    """Return what the settings file holds, nothing where it need not be there, and its name."""
    home = Path(os.environ.get("XDG_CONFIG_HOME", Path.home() / ".config"))
    path = named or home / "setover" / "settings.toml"
    if named is None and not path.exists():
        return "", str(path)
    try:
        return path.read_text(encoding="utf-8"), str(path)
    except OSError as error:
        raise SettingsUnreadable(str(path), str(error.strerror).lower()) from None
    except UnicodeDecodeError:
        raise SettingsUnreadable(str(path), "it is no text in UTF-8") from None


def _model(settings: Settings) -> Path:
    return Path(settings.sound.model) if settings.sound.model else FOLDER / "acoustic" / "model"


def _words_to_hear() -> list[str]:
    said = {SAME_SOUND.get(word, word) for context in Context for word in words(context)}
    return sorted(said | set(WORDS))


# Each command


def _type(options: argparse.Namespace, settings: Settings) -> int:
    lines = (line.strip() for line in sys.stdin)
    return _converse(settings, (line for line in lines if line), options, _typed)


def _typed(state: State, line: str) -> Exchange:
    events = events_of(line)
    spoken = any(isinstance(event, Heard) for event in events)
    return exchange(state, events, line if spoken else None)


def _hear(options: argparse.Namespace, settings: Settings) -> int:
    from hardware.recogniser import VoskRecogniser, hear_sound
    from hardware.sound_files import read_sound

    sounds = [read_sound(path) for path in options.file]
    recogniser = VoskRecogniser(_model(settings))
    listening: list[Context] = []

    def heard(state: State, index: str) -> Exchange:
        if listening != [state.context]:
            recogniser.expect(phrases(state.context))
            listening[:] = [state.context]
        hearing = hear_sound(recogniser, sounds[int(index)])
        return exchange(state, [Heard(hearing)], words_taken(hearing, state.context))

    try:
        return _converse(settings, map(str, range(len(sounds))), options, heard)
    finally:
        recogniser.close()


def _converse(
    settings: Settings,
    inputs: Iterable[str],
    options: argparse.Namespace,
    take: Callable[[State, str], Exchange],
) -> int:
    with closing(_journal(options.journal)) as journal:
        kept = journal.lines()
        state = begin(settings.first_job()).state
        if kept:
            resumed, unusable = resume(settings.first_job(), kept)
            state = welcome_back(resumed).state
            for line in unusable:
                print(f"The journal has a line I cannot use: {line}", file=sys.stderr)
        status = 0
        if not options.json:
            print(f"says  {state.reply.words}\n", flush=True)
        for given in inputs:
            try:
                made = take(state, given)
            except BenchError as error:
                made, status = refused(state, error), 1
            for line in made.records:
                journal.append(line)
            state = made.state
            if options.json:
                print(json.dumps(made.as_json(), ensure_ascii=False), flush=True)
            else:
                _print(made, given)
    return status


def _journal(path: Path | None) -> Journal:
    from hardware.store import MemoryJournal, SqliteJournal

    return MemoryJournal() if path is None else SqliteJournal(path, _wall_clock)


def _wall_clock() -> datetime:
    return datetime.now(UTC)


def _journal_path() -> Path:
    home = Path(os.environ.get("XDG_DATA_HOME", Path.home() / ".local" / "share"))
    return home / "setover" / "journal.sqlite"


def _print(made: Exchange, given: str) -> None:
    print(f"you   {made.heard or given}")
    if made.say is not None:
        print(f"says  {made.say}")
    for line in made.show:
        print(f"      | {line:<20} |")
    print(flush=True)


def _check(options: argparse.Namespace, settings: Settings) -> int:
    from hardware.check import check_parts

    sound = settings.sound
    reports = check_parts(
        _model(settings),
        _words_to_hear(),
        sound.voice,
        sound.speaker or None,
        sound.microphone or None,
        sys.stdout,
    )
    _print_reports(reports)
    if not options.quiet and sys.stdin.isatty() and sys.stdout.isatty():
        _check_together(settings)
    return 0


def _print_reports(reports: "Iterable[PartReport]") -> None:
    for report in reports:
        verdict = "works" if report.works else "MISSING"
        print(f"{report.part:<16}{verdict:<9}{report.detail}")
        if report.remedy:
            print(f"{'':<16}{'':<9}{report.remedy}")


def _check_together(settings: Settings) -> None:
    from hardware.gpio import board_pins, read_pins
    from hardware.keypad import MatrixKeypad
    from hardware.live_check import LiveParts, TerminalPerson, live_check
    from hardware.microphone import DeviceMicrophone
    from hardware.pedal import GpioPedal
    from hardware.pixel_screen import PixelScreen, oled
    from hardware.recogniser import VoskRecogniser
    from hardware.signals import GpioSignals
    from hardware.speaker import DeviceSpeaker
    from hardware.spindle import GpioSpindle
    from hardware.usb_keys import GaugeKeys, PadKeys, UsbKeys
    from hardware.voice import PyttsxSynthesiser

    sound, parts, pins, board = settings.sound, settings.parts, read_pins(), cache(board_pins)
    person = TerminalPerson(sys.stdin, sys.stdout)
    keypads: dict[str, Callable[[], Keypad]] = {
        "keypad": lambda: MatrixKeypad(pins.rows, pins.columns, board())
    }
    if parts.usb_pad:
        keypads["number pad"] = lambda: UsbKeys(parts.usb_pad, PadKeys, person.told)
    if parts.usb_gauge:
        keypads["gauge"] = lambda: UsbKeys(
            parts.usb_gauge, lambda: GaugeKeys(person.told), person.told
        )
    pulses = parts.pulses_per_turn if parts.spindle == "pulses" else None
    reports = live_check(
        LiveParts(
            lambda: DeviceMicrophone(sound.microphone or None),
            lambda: VoskRecogniser(_model(settings)),
            lambda: PyttsxSynthesiser(sound.voice, sound.words_per_minute),
            lambda: DeviceSpeaker(sound.speaker or None),
            keypads,
            lambda: GpioSignals(pins.lamp, pins.buzzer, board()),
            lambda: GpioPedal(pins.pedal, board()),
            phrases(Context.READY),
            None if parts.spindle == "none" else lambda: GpioSpindle(pins.spindle, pulses, board()),
            None
            if parts.small_screen == "none"
            else lambda: PixelScreen(lambda: oled(parts.small_screen), person.told),
        ),
        person,
    )
    print()
    _print_reports(reports)


def _show_settings(options: argparse.Namespace, settings: Settings) -> int:
    print(in_force(*_settings_file(options.settings)), end="")
    return 0


def _run(options: argparse.Namespace, settings: Settings) -> int:
    from hardware.gpio import board_pins, read_pins
    from hardware.keypad import MatrixKeypad
    from hardware.listening import Listening
    from hardware.pedal import GpioPedal
    from hardware.pixel_screen import PixelScreen, oled
    from hardware.recogniser import VoskRecogniser
    from hardware.returning import (
        ReturningMicrophone,
        ReturningSpeaker,
        plugged_in_microphone,
        plugged_in_speaker,
    )
    from hardware.screen import Screens, TerminalScreen
    from hardware.service import Service
    from hardware.signals import GpioSignals
    from hardware.spindle import GpioSpindle
    from hardware.store import SqliteJournal
    from hardware.terminal_keys import TerminalKeys
    from hardware.usb_keys import GaugeKeys, PadKeys, UsbKeys
    from hardware.voice import PyttsxSynthesiser

    sound, parts, service = settings.sound, settings.parts, Service()
    # The same way out as Ctrl-C: every part is let go of.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    terminal = TerminalScreen(sys.stdout)
    tell = terminal.tell
    screens = Screens(terminal)
    if parts.small_screen != "none":
        screens = Screens(terminal, PixelScreen(lambda: oled(parts.small_screen), tell))
    bench = Bench(screens, time.monotonic, watchdog=service)
    closing: list[Callable[[], None]] = [screens.close]

    def found(open_part: Callable[[], Part]) -> Part | None:
        try:
            part = open_part()
        except BenchError as missing:
            tell(str(missing))
            return None
        closing.append(part.close)  # type: ignore[attr-defined]  # every part has close
        return part

    with ThreadPoolExecutor() as starting:  # each in a process of its own, which takes a while
        recogniser_found = starting.submit(found, lambda: VoskRecogniser(_model(settings)))
        voice_found = starting.submit(
            found, lambda: PyttsxSynthesiser(sound.voice, sound.words_per_minute)
        )
        wanted = _words_to_hear()
    recogniser, bench.synthesiser = recogniser_found.result(), voice_found.result()
    if recogniser is not None:
        bench.recogniser = recogniser
        bench.ears = Listening(recogniser, openly=parts.listen == "open")
        if lacking := recogniser.lacking(wanted):
            tell(str(ModelIncomplete(str(_model(settings)), f"the words {', '.join(lacking)}")))
    bench.microphone = found(
        lambda: ReturningMicrophone(lambda: plugged_in_microphone(sound.microphone or None), tell)
    )
    bench.speaker = found(
        lambda: ReturningSpeaker(lambda: plugged_in_speaker(sound.speaker or None), tell)
    )
    bench.journal = found(lambda: SqliteJournal(_journal_path(), _wall_clock))
    app = App(bench, settings.first_job(called=parts.called if bench.ears else ""))
    keypads: list[Keypad | None] = []
    board = found(board_pins)
    if board is not None:
        pins = read_pins()
        keypads.append(found(lambda: MatrixKeypad(pins.rows, pins.columns, board)))
        bench.signaller = found(lambda: GpioSignals(pins.lamp, pins.buzzer, board))
        bench.pedal = found(lambda: GpioPedal(pins.pedal, board))
        if parts.spindle != "none":
            pulses = parts.pulses_per_turn if parts.spindle == "pulses" else None
            bench.spindle = found(lambda: GpioSpindle(pins.spindle, pulses, board))
    if parts.usb_pad:
        keypads.append(found(lambda: UsbKeys(parts.usb_pad, PadKeys, tell)))
    if parts.usb_gauge:
        keypads.append(found(lambda: UsbKeys(parts.usb_gauge, lambda: GaugeKeys(tell), tell)))
    if not service.present:  # under systemd nobody types, and the input is at its end at once
        keypads.append(
            found(
                lambda: TerminalKeys(sys.stdin, app.take, terminal.typing, lambda: app.take(None))
            )
        )
        tell("Keys: 0-9 a-d . and Enter.  / and words: as if spoken.  Ctrl-D leaves.")
    bench.keypads = [keypad for keypad in keypads if keypad is not None]
    service.ready()
    try:
        app.run()
    finally:
        service.stopping()
        for close in reversed(closing):
            close()
    return 0


def _rehearse(options: argparse.Namespace, settings: Settings) -> int:
    from hardware.rehearsal import rehearse

    return rehearse(settings.first_job(), _model(settings), options.sound, print)


if __name__ == "__main__":
    sys.exit(main())
