"""What is cut into a body when its outside is planned: rods, hollows, and what belongs to them."""
