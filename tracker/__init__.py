"""Cardwright: what is on every card, where its copies are, and what each card needs next."""
