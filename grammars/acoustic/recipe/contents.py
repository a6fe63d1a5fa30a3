"""Write down what a speech model consists of: `python -m grammars.acoustic.recipe.contents`.

contents.txt holds a line for each file of the model: its CRC-32 and its name. The recogniser
compares them before it loads the model, for vosk dies of some damage and hears wrongly with
other. To be run after any change to the model.
"""

import sys
import zlib
from pathlib import Path

NAME = "contents.txt"


def contents(model: Path) -> str:
    """Return the lines for the files that are there."""
    files = sorted(path for path in model.rglob("*") if path.is_file() and path.name != NAME)
    return "".join(
        f"{zlib.crc32(path.read_bytes()):08x} {path.relative_to(model).as_posix()}\n"
        for path in files
    )


if __name__ == "__main__":
    model = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parents[1] / "model"
    (model / NAME).write_text(contents(model), encoding="utf-8")
