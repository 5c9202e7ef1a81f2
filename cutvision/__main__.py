"""`python -m cutvision` runs the command line."""

from cutvision.cli import main

main()
