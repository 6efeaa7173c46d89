"""Signs that keyboards, tablets and word processors put in place of the plain ones."""

from __future__ import annotations

__all__ = ["LOOKALIKES"]

# Each stands for exactly one sign, so that columns stay the same. The full-width signs of East
# Asian keyboards (Unicode, Halfwidth and Fullwidth Forms) are those of ASCII in the same order.
LOOKALIKES = str.maketrans(
    "♭♯−–—’‘′`´”“″°ºØ△∆…{}" + "".join(chr(0xFF01 + at) for at in range(94)),
    "b#---'''''\"\"\"ooøΔΔ.()" + "".join(chr(0x21 + at) for at in range(94)),
)
