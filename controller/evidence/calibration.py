"""How far the model is from rehearsed truth, found on houses and years that no test uses.

``python -m tests.lab.evidence --set`` finds these figures anew from the winters of ``SETTING`` in
``tests/lab/winters.py``. The model fitted to a house's own log makes the store too small in every house,
because fans run when the sky is clear and the fit gives the sky a part of what the fans do.
"""

from __future__ import annotations

# Truth over model: raise of the night's low on heated nights.
NIGHT_SCALE = 1.145
# Spread of that over houses, as a share, each house left out in its turn.
SCALE_SPREAD = 0.065
# What the fit of a whole winter leaves open of it, as a share; a part of that spread.
USUAL_FIT_SPREAD = 0.045
# What a house's mean raise misses besides, in K.
SEASON_ERROR_K = 0.05
# What one night's raise misses, in K.
NIGHT_ERROR_K = 0.4
# Heat of the sun that air through open vents and doors carries off, per m² of floor: it makes the model's
# hours above 28, 32 and 36 °C those of rehearsed summers; and the spread of the raise by day, as a share.
AIRED_W_M2 = 75.0
DAY_SPREAD = 0.35
# Nights that follow each other miss alike: so many count as one.
NIGHTS_ALIKE = 3.0
