"""Mutation testing: small changes are made to the program, and each must make some test fail."""
