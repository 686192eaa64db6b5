"""Plan, permit, issue, walk, return and sign off a round."""
