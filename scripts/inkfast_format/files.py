"""Reading files that may be anything: never a device or a pipe, never through a link."""

import os
import stat

from .findings import CannotCheck


def kind_of(path):
    """`file`, `folder`, `other` (link, pipe, device) or None when there is nothing."""
    try:
        mode = os.lstat(path).st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise CannotCheck(f"{os.path.basename(path)} cannot be looked at: {error.strerror}") from None
    if stat.S_ISREG(mode):
        return "file"
    return "folder" if stat.S_ISDIR(mode) else "other"


def read(path):
    """The bytes of a file."""
    try:
        with open(path, "rb") as file:
            return file.read()
    except OSError as error:
        raise CannotCheck(f"{os.path.basename(path)} cannot be read: {error.strerror}") from None


def names_in(folder):
    """The names in a folder, sorted."""
    try:
        return sorted(os.listdir(folder))
    except OSError as error:
        raise CannotCheck(f"{os.path.basename(folder)} cannot be listed: {error.strerror}") from None
