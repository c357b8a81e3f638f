"""``python -m planner`` is the command ``batchwright``."""

from planner.cli import main

if __name__ == "__main__":
    main()
