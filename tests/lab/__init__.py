"""The laboratory: programs that play, explore, attack and measure, each with a page of what it found."""
