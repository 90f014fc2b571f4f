"""`python -m profiles` is the `stationer` command."""

from profiles.cli import main

main()
