"""What someone who means harm may feed the program, and how its answers are read.

``names`` holds the names, ``scene`` the files that carry them, ``readers`` what takes
an answer apart again, ``exits`` each way out with its commands.  The tests in
``tests/faults`` and the script ``tests/faults/hostile_table.py`` use the same.
"""
