"""What a measurement was taken on."""

import os
import platform
from pathlib import Path


def machine():
    """Processor, cores and system, in a line."""
    info = Path("/proc/cpuinfo")
    names = [line.split(":", 1)[1].strip() for line in info.read_text().splitlines()
             if line.startswith("model name")] if info.exists() else []
    return f"{names[0] if names else platform.machine()}, {os.cpu_count()} cores, {platform.system()} {platform.release()}"
