"""``python -m service`` is the command ``stilltaut``."""

from service.cli import main

main()
