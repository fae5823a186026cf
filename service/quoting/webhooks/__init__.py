"""Telling other programs what happened to quotes: signed messages, retried, never into private networks.

Headers, signature and secrets are those of the Standard Webhooks text, 1.0.
"""
