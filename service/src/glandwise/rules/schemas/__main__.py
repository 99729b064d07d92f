"""Write the JSON Schemas of the rule files: ``python -m glandwise.rules.schemas``."""

from pathlib import Path

from glandwise.rules import schemas

if __name__ == "__main__":
    schemas.write(Path(__file__).parent)
