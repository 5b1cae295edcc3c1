"""Materials, prescriptions, spreading records, work orders, and what follows from all of them."""
