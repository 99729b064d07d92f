"""Write the JSON Schemas of the rule files: ``python -m glandwise.rules.schemas FOLDER``."""

import argparse
from pathlib import Path

from glandwise.rules import schemas

if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        prog="python -m glandwise.rules.schemas", description="Write the JSON Schemas of the rule files."
    )
    parser.add_argument("folder", type=Path, help="where to; older ones there are replaced")
    schemas.write(parser.parse_args().folder)
