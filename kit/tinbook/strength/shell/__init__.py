"""The shell element, its assembly to a system, and its linear, modal and nonlinear solutions."""
