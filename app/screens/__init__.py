"""Owns the screens, one question of the technician each; run as scripts by app/main.py, not imported."""
