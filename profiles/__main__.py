"""`python -m profiles` is the `stationer` command."""

from profiles.entry import main

main()
