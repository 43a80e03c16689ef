// Lines of non-extension on the skin: material directions, so that they stay on the same skin as the body moves.

class SkinLines {
  constructor(sent, surface) {
    this.surface = surface;
    this.triangles = new Uint32Array(bytesOf(sent.triangles));
    this.directions = new Float32Array(bytesOf(sent.directions));
    this.position = new Float32Array(sent.count * 2 * 6 * 3);
    this.normal = new Float32Array(this.position.length);
  }

  /** Two strips a place, as triangles, for the body as it is. */
  arrays() {
    const { positions: p, triangles: t } = this.surface;
    const [half, wide, lift] = [11, 0.9, 1.5]; // mm
    let at = 0;
    for (let i = 0; i < this.triangles.length; i++) {
      const [a, b, c] = [0, 1, 2].map((k) => 3 * t[3 * this.triangles[i] + k]);
      const e1 = [0, 1, 2].map((k) => p[b + k] - p[a + k]);
      const e2 = [0, 1, 2].map((k) => p[c + k] - p[a + k]);
      let n = [e1[1] * e2[2] - e1[2] * e2[1], e1[2] * e2[0] - e1[0] * e2[2], e1[0] * e2[1] - e1[1] * e2[0]];
      const area = Math.hypot(...n) || 1;
      n = n.map((x) => x / area);
      const centre = [0, 1, 2].map((k) => (p[a + k] + p[b + k] + p[c + k]) / 3 + lift * n[k]);
      for (let d = 0; d < 2; d++) {
        const u = this.directions[4 * i + 2 * d], v = this.directions[4 * i + 2 * d + 1];
        const along = [0, 1, 2].map((k) => u * e1[k] + v * e2[k]);
        let side = [n[1] * along[2] - n[2] * along[1], n[2] * along[0] - n[0] * along[2], n[0] * along[1] - n[1] * along[0]];
        const length = Math.hypot(...side) || 1;
        side = side.map((x) => (wide * x) / length);
        const corner = (s, w) => [0, 1, 2].map((k) => centre[k] + s * half * along[k] + w * side[k]);
        for (const [s, w] of [[-1, -1], [1, -1], [1, 1], [-1, -1], [1, 1], [-1, 1]]) {
          this.position.set(corner(s, w), at);
          this.normal.set(n, at);
          at += 3;
        }
      }
    }
    return { position: this.position, normal: this.normal };
  }
}
