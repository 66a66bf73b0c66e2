"""Write the invented island of Varrow as map data, with its routes. Same bytes every time.

Run it with no arguments to renew the files beside it, or with a folder to write them there.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from varrow.build import build

if __name__ == "__main__":
    build(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent)
