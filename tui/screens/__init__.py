"""The screens, one file each, with its style sheet beside it."""
