import numpy as np
from numpy.typing import NDArray

from gpost.write.figures import Texts

def as_text(places: NDArray[np.int64], decimals: NDArray[np.int64]) -> Texts: ...
def splice(
    data: NDArray[np.uint8], start: NDArray[np.int64], end: NDArray[np.int64], texts: Texts
) -> tuple[NDArray[np.uint8], NDArray[np.int64]]: ...
