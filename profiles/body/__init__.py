"""What the body weighs, where it balances and how it floats."""
