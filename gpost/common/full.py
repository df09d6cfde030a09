"""What the system says where there is no room left on a disk."""

from __future__ import annotations

import errno

FULL = frozenset({errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)})
