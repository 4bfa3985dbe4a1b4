"""Protocols, rounds, readings and rigs."""
