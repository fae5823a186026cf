"""Ballparks: models fitted from the engine's own prices, kept for each organisation, and answers from them."""
