"""The model of the house: air, cover, tubes, ground and water, stepped through time, with its books."""
