"""The wiring, as a table and as a drawing, both from the pins' file."""

from collections.abc import Iterator
from dataclasses import dataclass
from xml.sax.saxutils import escape

from hardware.gpio import Pins, read_pins

# The 40-pin header of every Pi since 2014, pin 1 first; from memory of the Raspberry Pi
# documentation, GPIO chapter, and checked against gpiozero's own table in the tests.
HEADER = (
    *("3V3", "5V", "2", "5V", "3", "GND", "4", "14", "GND", "15"),
    *("17", "18", "27", "GND", "22", "23", "3V3", "24", "10", "GND"),
    *("9", "25", "11", "8", "GND", "7", "0", "1", "5", "GND"),
    *("6", "12", "13", "GND", "19", "16", "26", "20", "GND", "21"),
)


@dataclass(frozen=True, slots=True)
class Wire:
    """One wire: the number on the header, the part, and its other end."""

    header: int
    part: str
    end: str


def wires(pins: Pins) -> list[Wire]:
    """Return every wire, each part with the ground nearest to its pin."""

    def to(bcm: int) -> int:
        return HEADER.index(str(bcm)) + 1

    found = [
        *(Wire(to(bcm), "keypad", f"row {n}, from the top") for n, bcm in enumerate(pins.rows, 1)),
        *(
            Wire(to(bcm), "keypad", f"column {n}, from the left")
            for n, bcm in enumerate(pins.columns, 1)
        ),
        Wire(to(pins.lamp), "lamp", "plus, through its resistor"),
        Wire(to(pins.buzzer), "buzzer", "plus, through its transistor"),
        Wire(20, "lamp and buzzer", "minus"),
        Wire(to(pins.pedal), "pedal", "one side of the contact"),
        Wire(34, "pedal", "the other side"),
        Wire(to(pins.spindle), "spindle sensor", "isolator's output, open collector"),
        Wire(39, "spindle sensor", "isolator's output, ground"),
        Wire(1, "small screen", "VCC, 3.3 V"),
        Wire(to(2), "small screen", "SDA"),
        Wire(to(3), "small screen", "SCL"),
        Wire(9, "small screen", "GND"),
    ]
    return sorted(found, key=lambda wire: wire.header)


def markdown() -> str:
    """Return the pin table."""
    rows = [
        f"| {wire.header} | {_name(wire.header)} | {wire.part} | {wire.end} |"
        for wire in wires(read_pins())
    ]
    return "\n".join(["| header | pin | part | goes to |", "|---|---|---|---|", *rows])


def _name(header: int) -> str:
    label = HEADER[header - 1]
    return f"GPIO {label}" if label.isdigit() else label


# The drawing, in millimetres: the header twice as large as it is.
PITCH = 5.08
MIDDLE, TOP = 74.0, 16.0
WIDTH, HEIGHT = 148.0, TOP + 20 * PITCH
COLOURS = {
    "keypad": "#1f5fa8",
    "lamp": "#b06000",
    "buzzer": "#b06000",
    "lamp and buzzer": "#b06000",
    "pedal": "#207030",
    "spindle sensor": "#903090",
    "small screen": "#505050",
}


def svg() -> str:
    """Return the header as it is seen from above, pin 1 at the top left."""
    return "\n".join(_drawing(wires(read_pins()))) + "\n"


def _drawing(used: list[Wire]) -> Iterator[str]:
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH:g}mm" height="{HEIGHT:g}mm" '
        f'viewBox="0 0 {WIDTH:g} {HEIGHT:g}" font-family="sans-serif" font-size="2.6">'
    )
    yield f'<rect width="{WIDTH:g}" height="{HEIGHT:g}" fill="white"/>'
    yield f'<text x="{MIDDLE:g}" y="6" font-size="4" text-anchor="middle">The 40-pin header</text>'
    yield (
        f'<text x="{MIDDLE:g}" y="11" text-anchor="middle">'
        "pin 1 is at the corner of the board; unnamed pins stay free</text>"
    )
    yield (
        f'<rect x="{MIDDLE - PITCH:g}" y="{TOP - PITCH / 2:g}" width="{2 * PITCH:g}" '
        f'height="{20 * PITCH:g}" fill="#e8e8e8" stroke="black" stroke-width="0.3"/>'
    )
    ends = {wire.header: wire for wire in used}
    for header in range(1, len(HEADER) + 1):
        left = header % 2 == 1
        out = -1 if left else 1
        x, y = MIDDLE + out * PITCH / 2, TOP + (header - 1) // 2 * PITCH
        wire = ends.get(header)
        colour = COLOURS[wire.part] if wire else "#b8b8b8"
        hole = f'width="3.6" height="3.6" fill="{colour}"'
        yield f'<rect x="{x - 1.8:.2f}" y="{y - 1.8:.2f}" {hole} rx="{0 if header == 1 else 1.8}"/>'
        yield (
            f'<text x="{x:.2f}" y="{y + 0.8:.2f}" font-size="2.2" fill="white" '
            f'text-anchor="middle">{header}</text>'
        )
        if wire is None:
            continue
        start, end = MIDDLE + out * PITCH, MIDDLE + out * 14
        yield (f'<path d="M{start:.2f} {y:.2f}H{end:.2f}" stroke="{colour}" stroke-width="0.6"/>')
        label = f"{wire.part}: {wire.end.partition(',')[0]}  ({_name(header)})"
        yield (
            f'<text x="{end + out:.2f}" y="{y + 0.9:.2f}" fill="{colour}" '
            f'text-anchor="{"end" if left else "start"}">{escape(label)}</text>'
        )
    yield "</svg>"
