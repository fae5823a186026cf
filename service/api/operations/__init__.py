"""The operations by subject: each view reads its arguments, calls one use case and answers."""
