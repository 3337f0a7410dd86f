"""Charts as SVG text: scales, axes, bands, bars and strips; pure, and readable at any width without a script."""
