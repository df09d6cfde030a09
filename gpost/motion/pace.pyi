from gpost.motion.pacecolumns import limits as limits
from gpost.motion.pacecolumns import settled as settled
from gpost.motion.pacecolumns import straight as straight
