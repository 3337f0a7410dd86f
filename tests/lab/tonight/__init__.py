"""How good the outlook on the night is, measured on rehearsed winters (``python -m tests.lab.tonight``)."""
