"""What callers send and get, as marshmallow schemas; plain frozen dataclasses on the other side."""
