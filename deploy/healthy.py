"""Exit 0 when the studio's health endpoint, given by its address, answers 200 under the studio's own name."""

import os
import sys
import urllib.request

request = urllib.request.Request(sys.argv[1], headers={"Host": os.environ["ALLOWED_HOSTS"].split(",")[0]})
with urllib.request.urlopen(request, timeout=4) as answer:
    sys.exit(0 if answer.status == 200 else 1)
