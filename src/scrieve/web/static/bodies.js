// Bodies as the server writes them: 'SBOD', the length of the JSON, the JSON, corners, triangles, edges, fewer
// triangles for while it moves.

export function read(buffer) {
  const head = new DataView(buffer);
  if (head.getUint32(0, false) !== 0x53424f44) throw new Error("these are no bodies");
  const size = head.getUint32(4, true);
  const told = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 8, size)));
  let at = 8 + size;
  const points = new Float32Array(buffer, at, told.points * 3);
  at += points.byteLength;
  const faces = new Uint32Array(buffer, at, told.faces * 3);
  at += faces.byteLength;
  const edges = new Uint32Array(buffer, at, told.edges * 2);
  at += edges.byteLength;
  const coarse = new Uint32Array(buffer, at, told.coarse * 3);
  const [low, high] = [[Infinity, Infinity, Infinity], [-Infinity, -Infinity, -Infinity]];
  for (let i = 0; i < points.length; i += 1) {
    low[i % 3] = Math.min(low[i % 3], points[i]);
    high[i % 3] = Math.max(high[i % 3], points[i]);
  }
  const bodies = told.bodies.map((body) => ({ ...body, hidden: false }));
  return { bodies, points, faces, edges, coarse, low, high, missing: told.missing };
}
