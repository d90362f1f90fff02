"""Run the command line with ``python -m salvage``."""

from salvage.cli.app import main

if __name__ == "__main__":
    main()
