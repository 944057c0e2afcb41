"""The command `preloadmc`, as `python -m preloadmc`."""

from preloadmc.cli.main import main

main()
