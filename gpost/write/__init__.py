"""The second pass: what the steps want becomes G-code, and the output is put in its place.

Blocks come in the order of the file, each with its mark: where it stands, and the machine's state before it.
A thread reads the next one meanwhile. `Rewriter._block` is where their three ways part:

    nothing touches it        its bytes are passed on
    only its feeds change     MarkedBlock (feeds.py): by the feed marks that the survey has kept of it, so
                              that the lines concerned alone are read
    anything else does        Work (work.py): all of it is read and followed; then, one after the other,
                                - lines are silenced, feeds, clay and places are scaled or shifted: each puts
                                  new words into Edits (edits.py), and keeps what then holds (scaling.py)
                                - what is inserted is compiled (compiler.py, script.py) for the state that
                                  the output has there, and a move is split if need be (split.py)
                                - what that leaves to later lines, a feed or a motion mode, is settled
                                  (debts.py)
                                - Edits are spliced into the bytes, up to each insertion

Output (output.py) takes all of it, numbers lines anew where the file does so (renumber.py), and counts; it
ends in Written, which says where each thing went. The file stands beside its place until all is right
(sink.py). What is sent and is no move has been asked of sent.py, what is laid beside the piece of room.py.
"""
