// Bodies as the page carries them: 16-bit integers in base64 inside JSON.

function bytesOf(base64) {
  const text = atob(base64);
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
  return bytes.buffer;
}

function jsonOf(id) {
  const element = document.getElementById(id);
  return element ? JSON.parse(element.textContent) : null;
}

/** Triangles: an index array for drawing. */
function trianglesOf(sent) {
  const buffer = bytesOf(sent.data);
  return sent.bits === 16 ? new Uint16Array(buffer) : new Uint32Array(buffer);
}

/** Positions of the mean in mm, three a vertex. */
function positionsOf(sent) {
  const q = new Int16Array(bytesOf(sent.data));
  const out = new Float32Array(q.length);
  for (let i = 0; i < q.length; i++) {
    out[i] = sent.offset_mm[i % 3] + sent.scale_mm[i % 3] * (q[i] + 32768);
  }
  return out;
}

/** What one standard deviation does, in mm, three a vertex. */
function displacementsOf(sent) {
  const q = new Int16Array(bytesOf(sent.data));
  const out = new Float32Array(q.length);
  for (let i = 0; i < q.length; i++) out[i] = sent.scale_mm * q[i];
  return out;
}

/** A number with a true minus sign. */
function numberText(value, decimals, withPlus) {
  const text = Math.abs(value).toFixed(decimals);
  if (Number(text) === 0) return text;
  return (value < 0 ? "\u2212" : withPlus ? "+" : "") + text;
}
