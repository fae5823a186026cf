"""What stands before operations that anybody on the web may call: keys on pages, origins, limits."""
