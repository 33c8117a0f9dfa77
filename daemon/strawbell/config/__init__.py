"""The configuration: schema, loading, one list of problems, the example."""

from __future__ import annotations

import os

# Plug-ins of other packages would see every value that is validated, passwords among them; and
# looking for them costs a tenth of the time a configuration takes to load.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
