"""The live page: one page and its small server. It shows a room of wheels, and draws; it computes no figure."""
