"""What does `python -m fleet` do? The same as `dueward`."""

from __future__ import annotations

from fleet.cli.main import main

if __name__ == "__main__":
    main()
