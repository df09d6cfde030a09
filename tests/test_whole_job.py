"""The whole job in every dialect: a twisted bottle with all seven steps, each output executed by the oracle."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from gpost.config.check import check_steps
from gpost.config.model import Config
from gpost.demo.gcode import Piece, SliceStyle, slice_piece
