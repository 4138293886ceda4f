// Folding in the browser: from the recipe of a part's bends to the places of its nodes, at any share of folding.
// The same map as on the server, computed here so that the slider never waits.

/**
 * @typedef {{parent: number, child: number, angle: number, middle: number, flat: number, width: number,
 *   parent_frame: number[], child_frame: number[]}} Bend
 * @typedef {{o: number[], a: number[], b: number[], n: number[]}} Frame
 */

/**
 * Frames of all panels and starts of all bends at a share of folding; at 0 the flat that is cut.
 * @param {number} panelCount @param {Bend[]} bends @param {number} share
 */
export function pose(panelCount, bends, share) {
  /** @type {Frame[]} */
  const panels = new Array(panelCount);
  panels[0] = { o: [0, 0, 0], a: [1, 0, 0], b: [0, 1, 0], n: [0, 0, 1] };
  const starts = bends.map((bend) => {
    const { o, a, b, n } = panels[bend.parent];
    const [px, py, ax, ay, wx, wy] = bend.parent_frame;
    const s = mix(o, a, px, b, py), u = mix([0, 0, 0], a, ax, b, ay), v = mix([0, 0, 0], a, wx, b, wy);
    const turn = share * bend.angle, length = bend.middle + (1 - share) * (bend.flat - bend.middle);
    const [out, up] = along(turn, length, 1);
    const end = mix(s, v, out, n, up);
    const cos = Math.cos(turn), sin = Math.sin(turn);
    const v1 = mix([0, 0, 0], v, cos, n, sin), n1 = mix([0, 0, 0], n, cos, v, -sin);
    const [qx, qy, cx, cy, dx, dy] = bend.child_frame;
    const a1 = mix([0, 0, 0], u, cx, v1, dx), b1 = mix([0, 0, 0], u, cy, v1, dy);
    panels[bend.child] = { o: mix(end, a1, -qx, b1, -qy), a: a1, b: b1, n: n1 };
    return { s, u, v, n, turn, length };
  });
  return { panels, starts };
}

/** @param {number} turn @param {number} length @param {number} q */
function along(turn, length, q) {
  if (Math.abs(turn) < 1e-9) return [length * q, 0];
  const radius = length / turn;
  return [radius * Math.sin(turn * q), radius * (1 - Math.cos(turn * q))];
}

/** o + a x + b y
 * @param {number[]} o @param {number[]} a @param {number} x @param {number[]} b @param {number} y */
function mix(o, a, x, b, y) {
  return [o[0] + a[0] * x + b[0] * y, o[1] + a[1] * x + b[1] * y, o[2] + a[2] * x + b[2] * y];
}

/**
 * Places and normals (n × 3 each) of nodes in a pose.
 * @param {ReturnType<typeof pose>} posed @param {Uint16Array} region @param {Float32Array} local
 * @param {Float32Array} places @param {Float32Array} normals
 */
export function lay(posed, region, local, places, normals) {
  const { panels, starts } = posed, count = panels.length;
  for (let i = 0, k = 0; i < region.length; i += 1, k += 3) {
    const x = local[2 * i], y = local[2 * i + 1];
    if (region[i] < count) {
      const { o, a, b, n } = panels[region[i]];
      places[k] = o[0] + a[0] * x + b[0] * y;
      places[k + 1] = o[1] + a[1] * x + b[1] * y;
      places[k + 2] = o[2] + a[2] * x + b[2] * y;
      normals[k] = n[0]; normals[k + 1] = n[1]; normals[k + 2] = n[2];
    } else {
      const { s, u, v, n, turn, length } = starts[region[i] - count];
      const t = turn * y, sin = Math.sin(t), cos = Math.cos(t);
      const flat = Math.abs(turn) < 1e-9, radius = flat ? 0 : length / turn;
      const out = flat ? length * y : radius * sin, up = flat ? 0 : radius * (1 - cos);
      places[k] = s[0] + u[0] * x + v[0] * out + n[0] * up;
      places[k + 1] = s[1] + u[1] * x + v[1] * out + n[1] * up;
      places[k + 2] = s[2] + u[2] * x + v[2] * out + n[2] * up;
      normals[k] = cos * n[0] - sin * v[0];
      normals[k + 1] = cos * n[1] - sin * v[1];
      normals[k + 2] = cos * n[2] - sin * v[2];
    }
  }
}

/**
 * A point of a panel's frame in space.
 * @param {ReturnType<typeof pose>} posed @param {number} panel @param {number[]} at @param {number} [height]
 */
export function point(posed, panel, [x, y], height = 0) {
  const { o, a, b, n } = posed.panels[panel];
  return mix(mix(o, a, x, b, y), n, height, n, 0);
}

/**
 * A point of a bend's strip in space.
 * @param {ReturnType<typeof pose>} posed @param {number} bend @param {number} x @param {number} q
 */
export function onBend(posed, bend, x, q) {
  const { s, u, v, n, turn, length } = posed.starts[bend];
  const [out, up] = along(turn, length, q);
  return mix(mix(s, u, x, v, out), n, up, n, 0);
}

/**
 * The arrays of a scene by name, and its head.
 * @param {ArrayBuffer} data
 * @returns {any}
 */
export function unpacked(data) {
  if (data.byteLength < 4) return null;
  const long = new DataView(data).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(data, 4, long)));
  /** @type {Record<string, any>} */
  const kinds = { f4: Float32Array, u2: Uint16Array, u4: Uint32Array };
  /** @type {Record<string, any>} */
  const arrays = {};
  for (const { name, type, shape, at } of head.arrays) {
    const count = shape.reduce((/** @type {number} */ product, /** @type {number} */ each) => product * each, 1);
    arrays[name] = new kinds[type](data, 4 + long + at, count);
  }
  return { ...head, ...arrays };
}
