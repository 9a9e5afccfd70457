"""Steady cornering of a car: wheel loads, balance, and why a change of setup moves it."""
