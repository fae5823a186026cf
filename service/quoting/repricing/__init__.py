"""Repricing many quotes: a run is begun, done in parts, each in one transaction, and summed up."""
