"""From words to moves: the modal state carried through the file, and what each line does with it."""
