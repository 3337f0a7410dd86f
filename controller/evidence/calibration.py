"""How far the model is from rehearsed truth, found on houses and years that no test uses.

``python -m tests.lab.evidence --set`` finds scale and errors anew from the winters of ``SETTING`` in
``tests/lab/winters.py``; those below are of its a1, a2, a3 and a7. What lingers is a least-squares fit to the
hours of their heated nights, what airing carries off to the summers of a1 and a2, hours of frost to all four.
With a8 as well the scale is the same, and the errors are 0.20 and 0.44 K.
"""

from __future__ import annotations

# What lingers of the fans' heat: a mean over so long, over the loss of the house, and this share of it.
LINGERS_S = 86_400.0
LINGERING_SHARE = 0.226
# Truth over model: raise of the night's low on heated nights.
NIGHT_SCALE = 0.96
# The same for hours of frost, which also count evenings and mornings.
HOURS_SCALE = 1.15
# What a house's mean raise misses then, in K (root mean square), each judged by the scale of the others.
SEASON_ERROR_K = 0.24
# What one night's raise misses, in K (root mean square), the same way.
NIGHT_ERROR_K = 0.48
# What the fit of a whole winter leaves open of the raise at most, as a share, which is in the errors above.
USUAL_FIT_SPREAD = 0.08
# Heat of the sun that air through open vents and doors carries off, per m² of floor: it makes the model's
# hours above 28, 32 and 36 °C those of rehearsed summers; and the spread of the raise by day, as a share.
AIRED_W_M2 = 75.0
DAY_SPREAD = 0.6
# Within so many kelvin an opener goes from shut to open. [practice]
OPENER_K = 3.0
# Nights that follow each other miss alike: so many count as one.
NIGHTS_ALIKE = 3.0
