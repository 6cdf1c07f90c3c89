"""Finds plugins, keeps each one's faults to itself, and lists what they offer.

pluggy's own calls end with the first plugin that raises; here every plugin is
imported, registered, asked and run alone, and what goes wrong is told by name.

==================================================  ========  =====================
fault                                               stage     what is lost
==================================================  ========  =====================
cannot be imported, or exits on import              import    that plugin
misspelt or unmarked hook, wrapper, argument        register  that plugin
a hook raises, or its generator dies half-way       collect   that hook's answers
an answer of the wrong type                         collect   that answer
a name already taken (own first, then by name)      clash     the later one
a callable raises or answers wrongly, unasked       run       that answer
the same, asked for by name                         --        PluginFailed is raised
a call takes more than ten seconds                  slow      nothing; told at once
==================================================  ========  =====================

Not guarded, on purpose: KeyboardInterrupt, which is the user's; and what only
another process could guard against (a crash of the interpreter, writing to the
file descriptors behind ``sys.stdout``).
"""

from passes.registry.answers import ask
from passes.registry.core import KINDS, Registry
from passes.registry.records import Listed, Origin, Problem, Provided

__all__ = ["KINDS", "Listed", "Origin", "Problem", "Provided", "Registry", "ask"]
