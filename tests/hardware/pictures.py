"""Pictures of the small screen, kept from the last run of the tests for a person to look at."""

from collections.abc import Sequence
from pathlib import Path

from PIL import Image

from hardware.pixel_screen import HEIGHT, WIDTH

FOLDER = Path(__file__).parent.parent / "pictures"
# So many dots of the picture for one of the screen, across and down.
ENLARGED = 4
SHEET_COLUMNS, SHEET_GAP = 6, 12


def keep(pictures: Sequence[Image.Image], name: str) -> None:
    """Write them one by one, in place of what was kept by that name."""
    FOLDER.mkdir(exist_ok=True)
    for old in FOLDER.glob(f"{name}-*.png"):
        old.unlink()
    for number, image in enumerate(pictures):
        _enlarged(image).save(FOLDER / f"{name}-{number:02}.png")


def keep_on_a_sheet(pictures: Sequence[Image.Image], name: str) -> None:
    """Write them side by side as one picture."""
    FOLDER.mkdir(exist_ok=True)
    width, height = WIDTH * ENLARGED // 2 + SHEET_GAP, HEIGHT * ENLARGED // 2 + SHEET_GAP
    rows = -(-len(pictures) // SHEET_COLUMNS)
    sheet = Image.new("L", (width * SHEET_COLUMNS, height * rows), color=128)
    for number, image in enumerate(pictures):
        row, column = divmod(number, SHEET_COLUMNS)
        shown = _enlarged(image).resize((width - SHEET_GAP, height - SHEET_GAP))
        sheet.paste(shown, (column * width, row * height))
    sheet.save(FOLDER / f"{name}.png")


def _enlarged(image: Image.Image) -> Image.Image:
    return image.convert("L").resize((WIDTH * ENLARGED, HEIGHT * ENLARGED))
