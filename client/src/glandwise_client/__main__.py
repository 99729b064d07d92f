"""``python -m glandwise_client``: the command ``glandwise``."""

from __future__ import annotations

import sys

from glandwise_client._cli import main

if __name__ == "__main__":
    sys.exit(main())
