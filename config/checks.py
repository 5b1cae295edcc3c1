"""System checks: what an operator should hear of before people use the installation."""
