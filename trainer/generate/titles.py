"""Titles for songs of a river town, put together from two lists."""

from __future__ import annotations

import random

__all__ = ["draw_title"]

_THINGS = (
    "Second Lamp",
    "Wet Rope",
    "Copper Ladle",
    "Half a Ladder",
    "Gravel",
    "Second Oar",
    "Flour Sack",
    "Borrowed Coat",
    "Tin Roof Rain",
    "Three Nails",
    "Crooked Gate",
    "Cold Biscuit",
    "Barn Swallow",
    "Loose Plank",
    "Paper Lamp",
    "Dry Well",
    "Low Water",
    "Snapping Turtle",
    "Old Ledger",
    "Muddy Boots",
    "Willow Smoke",
    "Bent Spoon",
    "Slow Heron",
    "Blue Enamel",
    "Candle Stub",
    "Rusted Pulley",
    "Spare Key",
    "Jam Jar Moon",
    "Left-Hand Glove",
    "Quiet Hammer",
    "Window Screen",
    "Catfish Supper",
    "Cracked Ice",
    "Chestnut Dust",
    "Broken Weathervane",
    "Sunday Shovel",
    "Sawdust Snow",
    "Mended Umbrella",
    "Winter Onions",
    "Bicycle Bell",
)
_PLACES = (
    "past the Sluice",
    "by the Millrace",
    "at the Ferry Landing",
    "under the Porch Light",
    "behind the Grain Store",
    "at Fuller's Bend",
    "across the Tailwater",
    "on Dam Street",
    "below the Spillway",
    "at the Upper Lock",
    "in the Wheelhouse",
    "on the Towpath",
    "by the Weighbridge",
    "at the Feed Counter",
    "near the Sluice Gate",
    "on Cooper's Stairs",
    "under the Trestle",
    "in the Net Loft",
    "past the Pump House",
    "at Quarter Mile",
    "beside the Lime Kiln",
    "on the East Bank",
    "over the Footbridge",
    "in the Band Room",
    "at the Ice House",
    "along Orchard Row",
    "on the Night Boat",
    "by the Horse Trough",
    "at the Schoolhouse Door",
    "off Tanner's Lane",
    "in the Flood Book",
    "on the Back Steps",
)


def draw_title(rng: random.Random) -> str:
    """A title such as "Second Lamp past the Sluice"."""
    thing = _THINGS[int(rng.random() * len(_THINGS))]
    return f"{thing} {_PLACES[int(rng.random() * len(_PLACES))]}"
