"""Plugins that ship with passes; each arrives by the same door as an outsider's."""
