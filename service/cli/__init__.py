"""The command line: `forelamp`."""

from service.cli.main import main

__all__ = ["main"]
