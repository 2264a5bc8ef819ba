"""What a person sees or plugs in: the terminal screens, the shell, balances, paper."""
