"""Owns what a technician touches: the screens, the command line and the local server."""
