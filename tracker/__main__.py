"""`python -m tracker` is the command `cardwright`."""

from tracker.cli.main import main

if __name__ == "__main__":
    main()
