"""Write the invented shop's files: python -m stockroom.demo FOLDER."""

import sys
from pathlib import Path

from stockroom.demo.files import write_files
from stockroom.demo.shop import files


def main() -> None:
    """Write the files into the folder named, or data/."""
    folder = Path(sys.argv[1] if sys.argv[1:] else "data")
    for path in write_files(files(), folder):
        sys.stdout.write(f"{path}\n")


if __name__ == "__main__":
    main()
