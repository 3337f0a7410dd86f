"""The fault campaign: house-years in which everything of the fault table goes wrong, alone and together."""
