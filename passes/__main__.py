"""``python -m passes`` is the same program as ``passes``."""

from passes.cli import main

if __name__ == "__main__":
    main()
