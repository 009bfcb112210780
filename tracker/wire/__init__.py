"""The journal in files: facts, inventories, canonical bytes. Shapes are checked here."""
