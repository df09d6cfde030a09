from gpost.config.model import Machine
from gpost.motion.state import MachineState
from gpost.motion.way import Way
from gpost.read.block import Block

def find_way(block: Block, state: MachineState, machine: Machine) -> Way: ...
