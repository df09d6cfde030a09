import numpy as np
from numpy.typing import NDArray

from gpost.read.block import Words
from gpost.write.figures import Numbers, Ranges, Texts

def raised(
    value: NDArray[np.float64], gain: NDArray[np.float64], decimals: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]: ...
def count_decimals(data: NDArray[np.uint8], words: Words, index: NDArray[np.int64]) -> NDArray[np.int64]: ...
def as_text(places: NDArray[np.int64], decimals: NDArray[np.int64]) -> Texts: ...
def splice(
    data: NDArray[np.uint8], words: Words, numbers: Numbers, added: Ranges
) -> tuple[NDArray[np.uint8], NDArray[np.int64], NDArray[np.int64]]: ...
