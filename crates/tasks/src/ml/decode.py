"""Bodies from coefficients: python decode.py [train|validation|test] [row] [decoded.npy]"""
import sys

import numpy as np
from safetensors.numpy import load_file

part, row, into = (sys.argv[1:] + ["train", "0", "decoded.npy"][len(sys.argv) - 1 :])[:3]
space, table = load_file("space.safetensors"), load_file("coefficients.safetensors")
coefficients = table[part][int(row)]  # in mm; (coefficients - table["mean"]) / table["sd"] has unit variance
body = space["mean"] + np.tensordot(coefficients, space["modes"], axes=1)  # vertices x 3, in mm, z up
residual = body - space["mean"]
back = np.einsum("v,kvc,vc->k", space["weights"], space["modes"], residual)  # the encoder, for bodies in this frame
assert np.allclose(back, coefficients, atol=0.01)
np.save(into, body)
print(f"{part} {row}: {len(body)} vertices, {body[:, 2].max() - body[:, 2].min():.1f} mm high -> {into}")
