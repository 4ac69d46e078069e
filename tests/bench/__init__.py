"""The bench: simulated vehicles that answer whatever test the tool asks, by physics of their own."""
