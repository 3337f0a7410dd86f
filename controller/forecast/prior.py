"""P."""
SIZE=15
from controller.forecast.ridge import Prior
_Z=(0.0,)*SIZE
PRIORS = (Prior((_Z,_Z),(1.0,)*SIZE),)*5
