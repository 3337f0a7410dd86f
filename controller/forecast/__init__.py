"""How cold the coming night gets, learned on the device from the house's own nights.

``watch.watched`` takes a look every few minutes and learns once a morning; ``outlook.outlook`` says what is
expected now, with the store and without it. Pure: no clock, no file, and no number library. Nothing here can
switch an output, lift a lockout or reach the decision.
"""
