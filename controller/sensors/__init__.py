"""Sensor ports and the drivers behind them."""
