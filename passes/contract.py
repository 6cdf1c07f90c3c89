"""Which version of what is promised to others this is.

What is public is listed in DEVELOPERS.md.  A number is (major, minor): minor grows with
what is added, major where something that worked does so no more.  Before 1.0 anything
may change, and minor grows with it.
"""

#: Functions and records of ``passes.api`` and ``passes.model``.
API = (0, 1)
#: The hooks, what they exchange, ``passes.options`` and ``passes.testing``.
PLUGINS = (0, 2)
#: The shapes of JSON, by their schemas.
JSON = (0, 1)
#: Keys of the configuration file, and variables of the environment.
CONFIGURATION = (0, 1)
#: Commands, arguments, options and exit codes.
COMMANDS = (0, 1)
