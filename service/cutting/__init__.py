"""One-dimensional cutting in whole numbers: bounds, packing, relaxation and proof."""
