"""What musicians habitually type, read into the notation.

`line` reads one line: `pieces` cuts it, `words` and `other_names` read its chords with the
`spellings` they share, `units` joins pieces into bars, and `cells` says what bar lines, commas and
slashes mean. `labels` reads section names. What can be read in two ways is a `question`.
"""
