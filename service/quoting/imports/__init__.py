"""A supplier's price file into a draft price list: read in a stream, checked row by row, compared, told."""
