from gpost.motion.bycolumns import find_way as find_way
