"""A price range from the little that a home owner knows: rooms drawn, prices regressed, a range looked up.

Pure, on numpy alone. What a room costs comes from outside, by the same take-off and pricing as a quote's.
"""
