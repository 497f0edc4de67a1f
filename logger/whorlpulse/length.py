"""Measured length of yarn against time."""
