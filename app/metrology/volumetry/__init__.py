"""Volumes by liquid: what a burette delivers, what the liquid and the glass do with temperature, what water weighs."""
