"""What a job costs, line by line: how much of what, at which rate, from where."""
