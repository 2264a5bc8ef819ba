"""What Tarebook knows and keeps.

Nouns in `model`, facts in `events`, sums in `calc`, reference in `hazards`, the order of work in
`procedure`, the file in `record`, questions in `queries`, what goes out and comes in as files in
`exchange`, verbs in `actions`; what a person sees or plugs in is in `tui`.
"""
