"""`python -m backwave` is the command line."""

from backwave.cli import main

main()
