"""The rehearsal: the real loop, on a simulated clock, drives the simulated house; all is summed up."""
