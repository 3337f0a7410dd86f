"""``python -m controller`` and the ``hypocaust`` command."""

import sys

from controller.cli import main

if __name__ == "__main__":
    sys.exit(main())
