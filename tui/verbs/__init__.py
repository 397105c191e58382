"""The verbs of the command line, a file for each family of them."""
