"""`python -m gpost` is the same as `gpost`."""

from gpost.cli import main

if __name__ == "__main__":
    main()
