"""A real service manager of a login, in name spaces of its own, for commands of a test.

Skipped with the reason where the system does not let one be made: it takes root and a hierarchy of
control groups of its own.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

SCRIPT = """
mount -t tmpfs none /sys/fs/cgroup && mkdir /sys/fs/cgroup/systemd &&
  mount -t cgroup -o none,name=systemd,xattr none /sys/fs/cgroup/systemd || exit 77
mount -t tmpfs none /run && mkdir -p /run/systemd/system && mkdir -m 700 /run/login || exit 77
export XDG_RUNTIME_DIR=/run/login
/lib/systemd/systemd --user >/dev/null 2>&1 &
manager=$!
for _ in $(seq 100); do
  systemctl --user is-system-running >/dev/null 2>&1 && up=yes && break
  sleep 0.1
done
[ -n "$up" ] || exit 77
"$@"
code=$?
systemctl --user exit
wait $manager
exit $code
"""


def under_a_manager(folder: Path) -> list[str]:
    """Return the beginning of a command that runs the rest of it beside a manager."""
    if os.geteuid() != 0:
        pytest.skip("a service manager of its own takes root")
    for name in ("unshare", "systemctl"):
        if shutil.which(name) is None:
            pytest.skip(f"{name} is not installed")
    script = folder / "under-a-manager"
    script.write_text(SCRIPT)
    begin = ["unshare", "-mCpf", "--mount-proc", "bash", str(script)]
    if subprocess.run([*begin, "true"], capture_output=True, check=False).returncode != 0:
        pytest.skip("no service manager can be started in name spaces here")
    return begin
