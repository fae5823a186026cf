"""What operators see: logs, metrics, traces. None of it holds what callers said about persons."""
