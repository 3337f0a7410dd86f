"""Record: what a tick leaves behind: a day's sums, what outlives a restart, whether the promises held."""
