"""``python -m glandwise_client``: the command ``glandwise``."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the command; say what is missing where the client was installed without what the command needs."""
    try:
        from glandwise_client._cli import main as command
    except ModuleNotFoundError as error:
        name = (error.name or "").partition(".")[0]
        if name not in {"typer", "rich", "junitparser"}:
            raise
        print(f"glandwise: {name} is not installed; install glandwise-client[cli]", file=sys.stderr)
        return 2
    return command()


if __name__ == "__main__":
    sys.exit(main())
