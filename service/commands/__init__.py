"""Commands that are longer than a call of one use case."""
