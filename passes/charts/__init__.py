"""Primitives that figures are drawn with; each command draws its own of them.

Importing this loads no matplotlib; the modules do, when a chart is asked for.
"""

import logging

# Stderr is for what concerns the night, not for where matplotlib keeps its fonts.
logging.getLogger("matplotlib").setLevel(logging.ERROR)
