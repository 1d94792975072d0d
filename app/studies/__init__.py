"""Studies of an instrument in the hands of its people: gauge study, flow study, and what a budget takes from them."""
