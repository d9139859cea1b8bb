// A block of numbers for a plot: four bytes of length, a heading in JSON, x as 32-bit floats, then each line in steps
// of 16 bits; a line without a step is 32-bit floats.

const UNKNOWN = 65535;

/** Heading and columns of a block; x in full, as told from `start` on. Nothing known is null, as uPlot wants it. */
export function unpack(buffer) {
  const view = new DataView(buffer);
  const length = view.getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const { count } = head;
  const first = 4 + length;
  const x = Float64Array.from({ length: count }, (_, i) => head.start + view.getFloat32(first + 4 * i, true));
  let at = first + 4 * count;
  const values = head.lines.map(({ low, step }) => {
    const begin = at;
    at += (step === undefined ? 4 : 2) * count;
    return Array.from({ length: count }, (_, i) => {
      if (step === undefined) return known(view.getFloat32(begin + 4 * i, true));
      const steps = view.getUint16(begin + 2 * i, true);
      return steps === UNKNOWN ? null : low + step * steps;
    });
  });
  return { head, x, values };
}

function known(value) {
  return Number.isNaN(value) ? null : value;
}
