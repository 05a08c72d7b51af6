"""``python -m fecallab``: the program where its own name is not found or may not be started."""

from fecallab.cli.main import main

if __name__ == "__main__":
    main()
