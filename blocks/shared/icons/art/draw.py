"""Draw the built-in icons from the SVGs beside this file: a 24 px grid, one line of 1.4, round ends.

Leaves: ../NAME.png, 96 x 96 px, black on nothing, for slots of up to 48 px; handbill gives them their colour.
Needs rsvg-convert (librsvg) and Pillow.
"""

from __future__ import annotations

import subprocess
from io import BytesIO
from pathlib import Path

from PIL import Image

ART = Path(__file__).resolve().parent
SIDE = 96  # px
LEVELS = 16  # of alpha, evenly apart: four bits for each pixel, and no step that an eye could find


def main() -> None:
    """Draw every icon."""
    step = 255 // (LEVELS - 1)
    for source in sorted(ART.glob("*.svg")):
        command = ["rsvg-convert", f"--width={SIDE}", f"--height={SIDE}", str(source)]
        drawn = subprocess.run(command, check=True, capture_output=True).stdout
        with Image.open(BytesIO(drawn)) as picture:
            alpha = picture.convert("RGBA").getchannel("A")
        icon = Image.frombytes(
            "P", alpha.size, bytes((level + step // 2) // step for level in alpha.tobytes())
        )
        icon.putpalette(bytes(3 * LEVELS))
        transparency = bytes(step * level for level in range(LEVELS))
        icon.save(ART.parent / f"{source.stem}.png", optimize=True, bits=4, transparency=transparency)


if __name__ == "__main__":
    main()
