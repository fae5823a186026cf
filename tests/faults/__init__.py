"""Faults of real processes: gunicorn, a worker and a PostgreSQL of their own, ended in the midst of work."""
