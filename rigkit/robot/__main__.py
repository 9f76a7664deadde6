"""`python -m rigkit.robot --write | --check`: the list of true joints in data/."""

import sys

from rigkit.robot import main

sys.exit(main())
