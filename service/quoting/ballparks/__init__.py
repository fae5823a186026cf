"""Ballparks: models fitted to the engine's own prices, kept for each organisation; answers from them."""
