"""The shell: queries, sums, plain prep; never imports textual."""
