"""``python -m filmhand``."""

from filmhand.cli import main

if __name__ == "__main__":
    main()
