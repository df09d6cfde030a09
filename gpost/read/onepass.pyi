from gpost.read.bycolumns import by_letter as by_letter
from gpost.read.bycolumns import find_words as find_words
