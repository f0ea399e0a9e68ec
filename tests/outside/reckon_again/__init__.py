"""A second working-out of the rules of the trade, made from the rule texts alone."""
