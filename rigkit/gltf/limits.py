"""What a file may ask for at most. A file that asks for more is refused by name before any memory is taken for it."""

FILE_BYTES = 1 << 30  # one file: a model, a buffer
JSON_BYTES = 128 << 20
JSON_DEPTH = 64  # objects and lists within each other
LIST_ITEMS = 1_000_000  # in one list of the document
NODES = 65_536
DECODED_BYTES = 2 << 30  # all arrays of one load together
DECODED_LEAST = 64 << 20  # a small file may ask for this much
DECODED_SHARE = 64  # and any file for so many times its own size
SAMPLES = 20_000  # of one motion that is baked
