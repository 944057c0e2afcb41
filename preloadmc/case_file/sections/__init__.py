"""The sections of one case: the rows of their keys, and the laws and facts that follow."""
