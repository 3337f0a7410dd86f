"""Charts as SVG text: scales, axes, bands, bars and strips; pure, and of any width without a script."""
