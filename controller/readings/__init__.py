"""Judged readings: pure code that decides which samples can be trusted."""
