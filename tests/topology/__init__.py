"""The topology of docker/compose.yaml as plain processes on this machine's loopback."""
