"""The statements of one part."""
