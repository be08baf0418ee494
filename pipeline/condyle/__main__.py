"""``python -m condyle`` is the command ``condyle``."""

import sys

from condyle.command import main

sys.exit(main())
