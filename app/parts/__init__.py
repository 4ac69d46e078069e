"""Owns the visible pieces that screens are put together from; each file has one show()."""
