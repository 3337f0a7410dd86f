"""The rehearsal: the real loop on a simulated clock, drives the simulated house and is summed up."""
