"""How to find what is wrong with a fork or shock, cheapest check first."""
