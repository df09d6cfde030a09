import numpy as np
from numpy.typing import NDArray

from gpost.read.block import ByLetter, Words

def find_words(
    data: NDArray[np.uint8], line_start: NDArray[np.int32], line_end: NDArray[np.int32]
) -> tuple[Words, NDArray[np.intp]]: ...
def by_letter(words: Words) -> tuple[NDArray[np.int64], ByLetter | None]: ...
