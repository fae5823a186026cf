"""The office's labour tables, and what booked hours say of their rates."""
