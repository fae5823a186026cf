"""HTTP only: operations, schemas, problem responses, keys and preconditions."""
