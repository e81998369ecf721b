"""Photos in; colours with error budgets, their difference and a verdict out."""
