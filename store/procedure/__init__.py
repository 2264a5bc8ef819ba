"""The order of work: a plan becomes steps, entries fold into progress."""
