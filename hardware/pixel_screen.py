"""The bench screen on a small display of 128 by 64 pixels, on the I2C bus.

luma.oled drives the display: it is kept up, packaged by Debian, works on every Pi through the
kernel's bus, and has a device without a display whose picture the tests look at. The
character displays' libraries have none.
"""

from collections.abc import Callable, Sequence
from typing import Any

from luma.core.error import Error
from luma.core.interface.serial import i2c
from luma.oled import device
from PIL import Image, ImageDraw, ImageFont

from assistant.errors import BadSetting, DeviceMissing
from hardware.screen import COLUMNS, LINES, fitted

WIDTH, HEIGHT = 128, 64
# Pillow's own bitmap font.
LETTER_WIDTH, LETTER_HEIGHT = 6, 11
# The controllers of such displays.
DRIVERS = ("ssd1306", "ssd1309", "ssd1315", "sh1106")
# Twice as tall, to be read from the lathe: the figure the hand is to set, by how its line
# begins, and the number being keyed, by the mark at its end.
TALL = ("Over", "Set over", "Set-over", "Move", "=")
KEYED = "_"
# Begins like the figure to set, and is one that was measured.
MEASURED = "Over balls"


def picture(lines: Sequence[str], takes_all: bool = False) -> Image.Image:
    """Return the screen's four lines of twenty characters, the one that counts twice as tall.

    A bar at the left edge says that everything said is taken, without the word before it.
    """
    image = Image.new("1", (WIDTH, HEIGHT))
    shown = fitted(lines)
    tall = next((n for n, line in enumerate(shown) if _counts(line)), None)
    heights = [LETTER_HEIGHT * (1 + (n == tall)) for n in range(LINES)]
    gap, top = (HEIGHT - sum(heights)) // LINES, 0
    for line, height in zip(shown, heights, strict=True):
        drawn = _drawn(line)
        image.paste(drawn.resize((drawn.width, height)), (3, top + gap // 2))
        top += height + gap
    if takes_all:
        ImageDraw.Draw(image).rectangle((0, 0, 1, HEIGHT - 1), fill=1)
    return image


def _counts(line: str) -> bool:
    return KEYED in line or (line.startswith(TALL) and not line.startswith(MEASURED))


def _drawn(line: str) -> Image.Image:
    """Return a line with a dot to spare on each side, for the feet of its wide letters."""
    image = Image.new("1", (COLUMNS * LETTER_WIDTH + 2, LETTER_HEIGHT))
    draw, font = ImageDraw.Draw(image), ImageFont.load_default_imagefont()
    text = line.encode("ascii", "replace").decode()  # the font has no more
    for column, letter in enumerate(text):
        # Each by itself behind a space: the font cuts off what sticks out on the left of the
        # first letter, and on the right of every one that another follows.
        draw.text((1 + (column - 1) * LETTER_WIDTH, 0), f" {letter}", fill=1, font=font)
    return image


def oled(driver: str = "ssd1306", bus: int = 1, address: int = 0x3C) -> Any:
    """Return the display on an I2C bus.

    Args:
        driver: Its controller, by the name luma.oled has for it, such as ssd1309 or sh1106.
        bus: The bus on the header is 1 on every Pi of today; from memory.
        address: As printed on most displays of this kind; from memory.

    Raises:
        BadSetting: luma.oled has no such driver.
        DeviceMissing: It does not answer.
    """
    if driver not in DRIVERS:
        raise BadSetting("screen driver", driver, f"one of {', '.join(DRIVERS)}")
    missing = DeviceMissing(
        "small screen", "connect it, and switch the I2C bus on with raspi-config"
    )
    try:
        serial = i2c(port=bus, address=address)
    except (Error, OSError):
        raise missing from None
    try:
        return getattr(device, driver)(serial)
    except (Error, OSError):
        serial.cleanup()
        raise missing from None


class PixelScreen:
    """A display that may be unplugged, and shows the next screenful when it is back.

    Args:
        open_display: Returns a luma display of 128 by 64 pixels, as `oled` does.
        told: Gets a sentence when there is none, and when it is there again.
    """

    def __init__(self, open_display: Callable[[], Any], told: Callable[[str], None]) -> None:
        self._open_display, self._told = open_display, told
        self._display: Any = None
        self._lost = False
        self._lines: Sequence[str] = ()
        self._takes_all = False

    def show(self, lines: Sequence[str]) -> None:
        """Show these lines in place of what is shown."""
        self._lines = lines
        self._draw()

    def hears(self, begun_with: str) -> None:
        """Show a bar while everything is taken."""
        self._takes_all = not begun_with
        self._draw()

    def _draw(self) -> None:
        try:
            if self._display is None:
                self._display = self._open_display()
            shown = picture(self._lines, self._takes_all)
            self._display.display(shown.convert(self._display.mode))
        except DeviceMissing as missing:
            self._gone(str(missing))
        except (Error, OSError):
            self._display.persist = True  # it cannot be told to go dark
            self.close()
            self._gone("I have lost the small screen: look at its cable.")
        else:
            if self._lost:
                self._lost = False
                self._told("The small screen is back.")

    def close(self) -> None:
        """Switch the display off."""
        if self._display is not None:
            self._display.cleanup()
            self._display = None

    def _gone(self, sentence: str) -> None:
        if not self._lost:
            self._lost = True
            self._told(sentence)
