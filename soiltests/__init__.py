"""Labs, lab reports, samples and soil tests, imports and sampling rounds."""
