"""The simulator: an invented cellar that speaks through real wires to the real drivers."""
