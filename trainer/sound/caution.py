"""The hearing caution shown at first use."""

from __future__ import annotations

__all__ = ["HEARING_CAUTION", "HEARING_REMINDER"]

# Exposure limits: Recommendation ITU-T H.870 "Guidelines for safe listening devices/systems"
# (WHO-ITU, 2018, in force 2022): 80 dBA for 40 hours a week for adults, 75 dBA for children and
# sensitive listeners.
HEARING_CAUTION = """\
Look after your hearing: headphones and loudspeakers can damage it for good.
- Set the volume low before the first note, then raise it only until it is
  comfortable.
- Take a break from listening now and then. We suggest one every ten minutes;
  that is our own advice, not a measured limit.
- As a guide, the WHO-ITU recommendation H.870 allows adults 80 dBA for 40
  hours a week, children and sensitive listeners 75 dBA. Each 3 dB more halves
  the time.
- This program cannot know how loud it is at your ear: that depends on your
  equipment and its settings.
- If speech sounds dull or your ears ring afterwards, stop and turn down.
Local rules come first; with any worry about your hearing, ask a hearing
professional.
"""

# Said wherever a sound is made for somebody who may not have seen the caution.
HEARING_REMINDER = """\
Before you listen: set the volume low, then raise it only until it is comfortable.
Headphones and loudspeakers can damage hearing for good; local rules come first, and
with any worry ask a hearing professional."""
