// A surface that deforms: the mean plus coefficients times the modes, with normals of the result.

class Surface {
  constructor(triangles, body) {
    this.triangles = triangles;
    this.mean = positionsOf(body.positions);
    this.modes = body.modes.map(displacementsOf);
    this.sds = body.modes.map((m) => m.sd_mm);
    this.vertices = body.positions.vertices;
    this.positions = new Float32Array(this.mean);
    this.normals = new Float32Array(this.mean.length);
    this.moved = new Float32Array(this.vertices); // distance from the mean, mm
    this.largest = 0;
    this.bounds = this.box();
    this.deform([]);
  }

  /** Centre and half diagonal of the mean. */
  box() {
    const low = [Infinity, Infinity, Infinity];
    const high = [-Infinity, -Infinity, -Infinity];
    for (let i = 0; i < this.mean.length; i++) {
      const k = i % 3;
      if (this.mean[i] < low[k]) low[k] = this.mean[i];
      if (this.mean[i] > high[k]) high[k] = this.mean[i];
    }
    const size = high.map((h, k) => h - low[k]);
    return { centre: high.map((h, k) => (h + low[k]) / 2), size, radius: Math.hypot(...size) / 2 };
  }

  /** Puts the surface at these coefficients, in standard deviations. */
  deform(coefficients) {
    const out = this.positions;
    out.set(this.mean);
    coefficients.forEach((c, k) => {
      const mode = this.modes[k];
      if (!mode || !c) return;
      for (let i = 0; i < out.length; i++) out[i] += c * mode[i];
    });
    this.measureMoved();
    this.computeNormals();
  }

  measureMoved() {
    this.largest = 0;
    for (let v = 0; v < this.vertices; v++) {
      const i = 3 * v;
      const x = this.positions[i] - this.mean[i];
      const y = this.positions[i + 1] - this.mean[i + 1];
      const z = this.positions[i + 2] - this.mean[i + 2];
      const d = Math.sqrt(x * x + y * y + z * z); // Math.hypot is many times slower
      this.moved[v] = d;
      if (d > this.largest) this.largest = d;
    }
  }

  /** Normals of the vertices: the sum of the vector areas of the triangles around each. */
  computeNormals() {
    const p = this.positions;
    const n = this.normals;
    const t = this.triangles;
    n.fill(0);
    for (let i = 0; i < t.length; i += 3) {
      const a = 3 * t[i], b = 3 * t[i + 1], c = 3 * t[i + 2];
      const ux = p[b] - p[a], uy = p[b + 1] - p[a + 1], uz = p[b + 2] - p[a + 2];
      const vx = p[c] - p[a], vy = p[c + 1] - p[a + 1], vz = p[c + 2] - p[a + 2];
      const x = uy * vz - uz * vy, y = uz * vx - ux * vz, z = ux * vy - uy * vx;
      n[a] += x; n[a + 1] += y; n[a + 2] += z;
      n[b] += x; n[b + 1] += y; n[b + 2] += z;
      n[c] += x; n[c + 1] += y; n[c + 2] += z;
    }
    for (let i = 0; i < n.length; i += 3) {
      const length = Math.sqrt(n[i] * n[i] + n[i + 1] * n[i + 1] + n[i + 2] * n[i + 2]) || 1;
      n[i] /= length; n[i + 1] /= length; n[i + 2] /= length;
    }
  }
}
