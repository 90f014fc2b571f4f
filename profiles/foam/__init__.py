"""Foam: boards, billets, the cutting plan, kerf, accuracy and the hot wire."""
