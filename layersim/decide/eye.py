"""How large a colour difference must be to be seen, or to disturb.

Measured for small samples side by side in a viewing booth by R. D. Paravina et al., Color difference
thresholds in dentistry, J. Esthet. Restor. Dent. 27 (2015) S1 (175 observers, tooth ceramics). Figures on a
table are not such samples: these are the strictest conditions that a painter's work will meet.
"""

from __future__ import annotations

from typing import Final

from layersim import colour

SEEN: Final = 0.8
"""ΔE00 that half of all people see side by side."""
DISTURBS: Final = 1.8
"""ΔE00 that half of all people find too much side by side."""
GREY_CHROMA: Final = colour.GREY_CHROMA
"""Below this chroma C* a colour passes for a grey, and its hue means nothing (common practice, no source)."""
