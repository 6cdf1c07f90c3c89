"""Satellite passes, transits and streaks for astrophotographers, offline.

Importing this package costs nothing; notebooks use ``from passes.api import ...``.
"""

__version__ = "0.1.0"
