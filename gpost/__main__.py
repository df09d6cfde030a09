"""`python -m gpost` is the same as `gpost`."""

from gpost.start import main

if __name__ == "__main__":
    main()
