"""Repricing many quotes in sets: what a run works with, its parts, and the statements of one part."""
