"""Tables as data files, a source on every row, one loader."""
