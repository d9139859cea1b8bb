// A block of numbers for a plot: four bytes of length, a heading in JSON, then 32-bit floats (x, then each line).

const LITTLE = new Uint8Array(new Uint16Array([1]).buffer)[0] === 1;

/** Heading and columns of a block; x in full, as told from `start` on. Nothing known is null, as uPlot wants it. */
export function unpack(buffer) {
  const view = new DataView(buffer);
  const length = view.getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const first = 4 + length;
  const columns = [];
  for (let column = 0; column <= head.lines.length; column += 1) {
    columns.push(floats(view, first + 4 * column * head.count, head.count));
  }
  const x = Float64Array.from(columns[0], (value) => head.start + value);
  return { head, x, values: columns.slice(1).map(withHoles) };
}

function floats(view, at, count) {
  if (LITTLE) return new Float32Array(view.buffer, at, count);
  return Float32Array.from({ length: count }, (_, i) => view.getFloat32(at + 4 * i, true));
}

function withHoles(values) {
  if (!values.some(Number.isNaN)) return values;
  return Array.from(values, (value) => (Number.isNaN(value) ? null : value));
}
