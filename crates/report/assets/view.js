// Draws a surface with WebGL 1: smooth shading from the normals, and, if wanted, colour by how far each point has moved.

const VERTEX_SHADER = `
attribute vec3 position;
attribute vec3 normal;
attribute float moved;
uniform mat4 view;
uniform mat4 projection;
varying vec3 facing;
varying vec3 toEye;
varying float amount;
void main() {
  vec4 seen = view * vec4(position, 1.0);
  facing = mat3(view) * normal;
  toEye = -seen.xyz;
  amount = moved;
  gl_Position = projection * seen;
}`;

const FRAGMENT_SHADER = `
precision mediump float;
varying vec3 facing;
varying vec3 toEye;
varying float amount;
uniform vec3 plain;
uniform vec3 ramp[5];
uniform float full;
vec3 shade(float t) {
  float s = clamp(t, 0.0, 1.0) * 4.0;
  vec3 c = mix(ramp[0], ramp[1], clamp(s, 0.0, 1.0));
  c = mix(c, ramp[2], clamp(s - 1.0, 0.0, 1.0));
  c = mix(c, ramp[3], clamp(s - 2.0, 0.0, 1.0));
  return mix(c, ramp[4], clamp(s - 3.0, 0.0, 1.0));
}
void main() {
  vec3 eye = normalize(toEye);
  vec3 n = normalize(facing);
  if (!gl_FrontFacing) n = -n;
  float key = max(dot(n, normalize(vec3(0.45, 0.6, 0.7))), 0.0);
  float fill = max(dot(n, normalize(vec3(-0.7, 0.1, 0.45))), 0.0);
  float rim = pow(1.0 - max(dot(n, eye), 0.0), 3.0);
  vec3 base = full > 0.0 ? shade(amount / full) : plain;
  gl_FragColor = vec4(base * (0.42 + 0.60 * key + 0.24 * fill) + 0.08 * rim, 1.0);
}`;

/** The ramp of displacement: from still to far, even in lightness and safe for colour-blind readers. */
const RAMP = [
  [0.80, 0.82, 0.82], [0.55, 0.75, 0.76], [0.25, 0.60, 0.69], [0.20, 0.40, 0.62], [0.26, 0.18, 0.45],
];

class View {
  constructor(canvas, surface) {
    this.canvas = canvas;
    this.surface = surface;
    this.camera = new Camera(surface.bounds);
    this.full = 0; // mm at the end of the ramp; 0 is plain
    this.frames = 0;
    this.stale = true;
    this.waiting = false;
    this.gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true });
    if (!this.gl) throw new Error("no WebGL");
    this.prepare();
    canvas.addEventListener("webglcontextlost", (e) => e.preventDefault());
    canvas.addEventListener("webglcontextrestored", () => {
      this.prepare();
      this.refresh();
    });
    steer(canvas, this.camera, () => this.redraw());
    new ResizeObserver(() => this.redraw()).observe(canvas);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.redraw());
    this.redraw();
  }

  compile(kind, source) {
    const gl = this.gl;
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, source);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) {
      throw new Error(gl.getShaderInfoLog(shader));
    }
    return shader;
  }

  prepare() {
    const gl = this.gl;
    const program = gl.createProgram();
    gl.attachShader(program, this.compile(gl.VERTEX_SHADER, VERTEX_SHADER));
    gl.attachShader(program, this.compile(gl.FRAGMENT_SHADER, FRAGMENT_SHADER));
    gl.linkProgram(program);
    gl.useProgram(program);
    this.uniforms = {};
    for (const name of ["view", "projection", "plain", "ramp", "full"]) {
      this.uniforms[name] = gl.getUniformLocation(program, name);
    }
    this.buffers = {};
    for (const [name, size] of [["position", 3], ["normal", 3], ["moved", 1]]) {
      const buffer = gl.createBuffer();
      const at = gl.getAttribLocation(program, name);
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.enableVertexAttribArray(at);
      gl.vertexAttribPointer(at, size, gl.FLOAT, false, 0, 0);
      this.buffers[name] = buffer;
    }
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, this.surface.triangles, gl.STATIC_DRAW);
    this.indexType = gl.UNSIGNED_SHORT;
    if (this.surface.triangles instanceof Uint32Array) {
      if (!gl.getExtension("OES_element_index_uint")) throw new Error("no 32-bit indices");
      this.indexType = gl.UNSIGNED_INT;
    }
    this.extraBuffers = ["position", "normal"].map((name) => [name, gl.getAttribLocation(program, name), gl.createBuffer()]);
    this.movedAt = gl.getAttribLocation(program, "moved");
    gl.enable(gl.DEPTH_TEST);
    gl.uniform3fv(this.uniforms.ramp, RAMP.flat());
  }

  /** The surface has changed. */
  refresh() {
    this.stale = true;
    this.redraw();
  }

  redraw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.draw();
    });
  }

  fitCanvas() {
    const scale = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.max(1, Math.round(this.canvas.clientWidth * scale));
    const height = Math.max(1, Math.round(this.canvas.clientHeight * scale));
    if (this.canvas.width !== width || this.canvas.height !== height) {
      this.canvas.width = width;
      this.canvas.height = height;
    }
  }

  draw() {
    const gl = this.gl;
    if (gl.isContextLost()) return;
    this.fitCanvas();
    if (this.stale) {
      const data = { position: this.surface.positions, normal: this.surface.normals, moved: this.surface.moved };
      for (const name in data) {
        gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[name]);
        gl.bufferData(gl.ARRAY_BUFFER, data[name], gl.DYNAMIC_DRAW);
      }
      this.stale = false;
    }
    const { view, projection } = this.camera.matrices(this.canvas.width / this.canvas.height);
    gl.viewport(0, 0, this.canvas.width, this.canvas.height);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.uniformMatrix4fv(this.uniforms.view, false, view);
    gl.uniformMatrix4fv(this.uniforms.projection, false, projection);
    gl.uniform3fv(this.uniforms.plain, [0.70, 0.74, 0.75]);
    gl.uniform3fv(this.uniforms.ramp, (this.ramp || RAMP).flat());
    gl.uniform1f(this.uniforms.full, this.full);
    gl.drawElements(gl.TRIANGLES, this.surface.triangles.length, this.indexType, 0);
    if (this.extra) this.drawExtra(this.extra.arrays());
    this.frames += 1;
  }

  /** Draws triangles of one dark colour over the surface. */
  drawExtra(data) {
    const gl = this.gl;
    gl.uniform3fv(this.uniforms.plain, [0.07, 0.09, 0.12]);
    gl.uniform1f(this.uniforms.full, 0);
    gl.disableVertexAttribArray(this.movedAt);
    for (const [name, at, buffer] of this.extraBuffers) {
      gl.bindBuffer(gl.ARRAY_BUFFER, buffer);
      gl.bufferData(gl.ARRAY_BUFFER, data[name], gl.DYNAMIC_DRAW);
      gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 0, 0);
    }
    gl.drawArrays(gl.TRIANGLES, 0, data.position.length / 3);
    gl.enableVertexAttribArray(this.movedAt);
    for (const [name, at] of this.extraBuffers) {
      gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[name]);
      gl.vertexAttribPointer(at, 3, gl.FLOAT, false, 0, 0);
    }
  }
}
