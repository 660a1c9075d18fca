"""Spools and money: which piece from which spool, proved; what to order."""
