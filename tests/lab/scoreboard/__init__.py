"""How good control is: many years, climates and houses, against rules of thumb and against hindsight."""
