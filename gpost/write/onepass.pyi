import numpy as np
from numpy.typing import NDArray

from gpost.read.block import Words
from gpost.write.figures import Numbers, Ranges, Texts

def as_text(places: NDArray[np.int64], decimals: NDArray[np.int64]) -> Texts: ...
def splice(
    data: NDArray[np.uint8], words: Words, numbers: Numbers, added: Ranges
) -> tuple[NDArray[np.uint8], NDArray[np.int64], NDArray[np.int64]]: ...
