// The part in space: folded by a slider, coloured by how hard the metal works, sagged as far as one likes.

import * as three from "three";
import { OrbitControls } from "three-controls";
import { lay, onBend, point, pose, unpacked } from "./fold.js";
import { fill, make } from "./make.js";

/** @typedef {"metal" | "work"} Coat */

const VERTEX = `
  attribute float share; attribute float mark;
  varying vec3 facing; varying float worth; varying float marked;
  void main() {
    facing = normalMatrix * normal; worth = share; marked = mark;
    gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0);
  }`;

// With a coat of work the colour is the legend's own, without light: a pixel tells its number.
const FRAGMENT = `
  uniform sampler2D scale; uniform float coat; uniform vec3 shade; uniform vec3 light; uniform vec3 accent; uniform vec3 stripe;
  varying vec3 facing; varying float worth; varying float marked;
  void main() {
    vec3 n = normalize(facing);
    if (!gl_FrontFacing) n = -n;
    float lit = 0.30 + 0.52 * max(0.0, dot(n, normalize(vec3(0.35, 0.75, 0.55)))) + 0.22 * max(0.0, dot(n, normalize(vec3(-0.6, 0.1, 0.6))));
    vec3 colour = mix(shade, light, clamp(lit, 0.0, 1.0));
    if (coat > 0.5) {
      colour = texture2D(scale, vec2((clamp(worth, 0.0, 1.0) * 255.0 + 0.5) / 256.0, 0.5)).rgb;
      if (worth > 1.0 && mod(gl_FragCoord.x + gl_FragCoord.y, 12.0) < 4.0) colour = stripe;
    }
    gl_FragColor = vec4(mix(colour, accent, 0.55 * marked), 1.0);
  }`;

const SAG_SHARE = 0.12;
const REST_VIEW = new three.Vector3(0.62, 0.5, 1.0).normalize();

/**
 * What draws; in a browser without WebGL something that draws nothing, and a sentence in the picture's place.
 * @param {HTMLElement} place
 * @returns {any}
 */
function renderer(place) {
  if (make("canvas").getContext("webgl2")) {
    try {
      return new three.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: false });
    } catch {
      // As if there were none: somebody else may have had the last one.
    }
  }
  place.append(make("p", { class: "no-picture note", text: "This browser draws nothing in space (it has no WebGL, or it is switched off). "
    + "The numbers, the findings and the flat are all here." }));
  return { domElement: make("canvas", { hidden: true }), setPixelRatio() {}, setSize() {}, render() {} };
}

export class Picture {
  /** Places of panels and bends as they are drawn. @type {ReturnType<typeof pose>} */
  posed = pose(1, [], 0);
  /** @type {any} */
  parts = null;
  /** @type {any} */
  mesh = null;
  /** @type {any} */
  lines = null;
  /** @type {any} */
  foldLines = null;
  /** @type {any} */
  group = null;
  /** @type {any} */
  extra = null;
  /** @type {any[]} */
  labels = [];
  /** In what loads are told. @type {import("./units.js").Units} */
  units = "mm";
  size = 0;
  home = false;
  untouched = true;
  asked = false;
  drawn = 0;
  /** Openings of the panels: there is no metal to be hit in them. @type {{panel: string | null, at: number[], size: number[]}[]} */
  openings = [];

  /**
   * @param {HTMLElement} place where to draw
   * @param {{hover: (told: null | {x: number, y: number, region: number, share: number | null, sag: number | null}) => void,
   *   pick: (told: null | {region: number, opening?: number}) => void}} told
   */
  constructor(place, told) {
    this.place = place;
    this.told = told;
    this.scene = new three.Scene();
    this.camera = new three.PerspectiveCamera(28, 1, 1, 20000);
    this.renderer = renderer(place);
    this.renderer.outputColorSpace = three.LinearSRGBColorSpace;
    this.renderer.setPixelRatio(Math.min(2, window.devicePixelRatio));
    const canvas = /** @type {HTMLCanvasElement} */ (this.renderer.domElement);
    // So that what is drawn can be asked about from outside, as the tests do.
    Object.assign(place, { picture: this });
    canvas.tabIndex = 0;
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", "The part in space. Arrow keys turn it, plus and minus come nearer or go back.");
    this.over = make("div", { class: "over", "aria-hidden": "true" });
    place.append(canvas, this.over);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.enableDamping = false;
    this.controls.zoomToCursor = true;
    this.controls.addEventListener("change", () => this.ask());
    // Until somebody turns it, the view keeps the whole part in sight while it folds.
    this.controls.addEventListener("start", () => { this.untouched = false; });
    canvas.addEventListener("pointermove", (event) => this.#hover(event));
    canvas.addEventListener("pointerleave", () => this.told.hover(null));
    canvas.addEventListener("pointerdown", (event) => { this.down = [event.clientX, event.clientY]; });
    canvas.addEventListener("pointerup", (event) => this.#pick(event));
    canvas.addEventListener("keydown", (event) => this.#key(event));
    new ResizeObserver(() => this.#size()).observe(place);
    this.share = 1;
    this.factor = 0;
    /** @type {Coat} */
    this.coat = "metal";
    this.showLoads = true;
    /** @type {any} */
    this.shown = null;
    /** @type {any[]} */
    this.places = [];
    this.marked = { panels: new Set(), bends: new Set() };
    this.material = new three.ShaderMaterial({
      vertexShader: VERTEX,
      fragmentShader: FRAGMENT,
      side: three.DoubleSide,
      uniforms: {
        scale: { value: null }, coat: { value: 0 },
        shade: { value: new three.Vector3() }, light: { value: new three.Vector3() },
        accent: { value: new three.Vector3() }, stripe: { value: new three.Vector3(1, 0.945, 0.875) },
      },
      polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
    });
    this.ink = new three.LineBasicMaterial({ color: 0x22303a });
    this.faint = new three.LineBasicMaterial({ color: 0x22303a, transparent: true, opacity: 0.35 });
    this.bright = new three.LineBasicMaterial({ color: 0x5b3fa8, depthTest: false });
    this.arrow = new three.MeshBasicMaterial({ color: 0x5b3fa8 });
    this.theme();
    const dark = matchMedia("(prefers-color-scheme: dark)");
    dark.addEventListener("change", () => this.theme());
    this.#size();
  }

  /** Take the colours of the page's theme. */
  theme() {
    const style = getComputedStyle(document.documentElement);
    const read = (/** @type {string} */ name) => style.getPropertyValue(name).trim() || "#888888";
    const set = (/** @type {any} */ vector, /** @type {string} */ text) => {
      const number = parseInt(text.slice(1), 16);
      vector.set((number >> 16) / 255, ((number >> 8) & 255) / 255, (number & 255) / 255);
    };
    const { shade, light, accent } = this.material.uniforms;
    set(shade.value, read("--metal-shade"));
    set(light.value, read("--metal-light"));
    set(accent.value, read("--accent"));
    const hue = (/** @type {string} */ text) => new three.Color().setRGB(...rgb(text), three.LinearSRGBColorSpace);
    this.ink.color = hue(read("--metal-edge"));
    this.faint.color = hue(read("--metal-edge"));
    this.bright.color = hue(read("--accent"));
    this.arrow.color = hue(read("--accent"));
    this.ask();
  }

  /** @param {number[][]} table the colours of the scale, 0 to 255 */
  setScale(table) {
    const data = new Uint8Array(table.length * 4);
    table.forEach(([r, g, b], i) => data.set([r, g, b, 255], 4 * i));
    const texture = new three.DataTexture(data, table.length, 1, three.RGBAFormat);
    texture.minFilter = texture.magFilter = three.NearestFilter;
    texture.colorSpace = three.NoColorSpace;
    texture.needsUpdate = true;
    this.material.uniforms.scale.value = texture;
    this.ask();
  }

  /**
   * Show a scene as it came from the server; the view stays when it is the same part.
   * @param {ArrayBuffer} data @param {boolean} samePart
   */
  show(data, samePart) {
    const scene = unpacked(data);
    this.clear();
    if (scene === null) return;
    this.shown = scene;
    const nodes = scene.region.length, rim = rims(scene.triangles);
    const folded = new Float32Array(3 * nodes), normals = new Float32Array(3 * nodes);
    const total = 2 * nodes + 4 * rim.length;
    const geometry = new three.BufferGeometry();
    geometry.setAttribute("position", new three.BufferAttribute(new Float32Array(3 * total), 3).setUsage(three.DynamicDrawUsage));
    geometry.setAttribute("normal", new three.BufferAttribute(new Float32Array(3 * total), 3).setUsage(three.DynamicDrawUsage));
    geometry.setAttribute("share", new three.BufferAttribute(new Float32Array(total), 1));
    geometry.setAttribute("mark", new three.BufferAttribute(new Float32Array(total), 1));
    geometry.setIndex(new three.BufferAttribute(skins(scene.triangles, nodes, rim), 1));
    const edges = new three.BufferGeometry();
    edges.setAttribute("position", new three.BufferAttribute(new Float32Array(3 * 4 * rim.length), 3).setUsage(three.DynamicDrawUsage));
    const folds = new three.BufferGeometry();
    folds.setAttribute("position", new three.BufferAttribute(new Float32Array(3 * 8 * scene.bends.length), 3));
    this.parts = { nodes, rim, folded, normals, geometry, edges, folds };
    this.mesh = new three.Mesh(geometry, this.material);
    this.lines = new three.LineSegments(edges, this.ink);
    this.foldLines = new three.LineSegments(folds, this.faint);
    this.group = new three.Group();
    this.extra = new three.Group();
    this.group.add(this.mesh, this.lines, this.foldLines, this.extra);
    const up = new three.Vector3(...scene.up), out = new three.Vector3(...scene.out);
    this.group.quaternion.setFromRotationMatrix(new three.Matrix4().makeBasis(up.clone().cross(out), up, out).transpose());
    this.group.updateMatrixWorld();
    this.scene.add(this.group);
    this.#shares();
    this.#mark();
    const size = this.fold(this.share);
    this.size = size;
    if (!samePart || !this.home) this.rest();
    this.ask();
  }

  /** Take away what is shown. */
  clear() {
    if (this.group) {
      this.scene.remove(this.group);
      this.parts?.geometry.dispose();
      this.parts?.edges.dispose();
      this.parts?.folds.dispose();
    }
    this.group = null;
    this.shown = null;
    fill(this.over);
    this.told.hover(null);
  }

  /** The factor that makes the greatest sag easy to see, a round number. */
  get usualFactor() {
    const greatest = this.shown?.greatest_sag_mm;
    if (!greatest || !this.size) return 1;
    const wanted = (SAG_SHARE * this.size) / greatest;
    const step = 10 ** Math.floor(Math.log10(wanted));
    return Math.max(1, [1, 2, 5, 10].map((n) => n * step).reduce((best, each) => (each <= wanted ? each : best), step));
  }

  /** @param {Coat} coat @param {number} factor how many times larger than it is the sag is drawn */
  dress(coat, factor) {
    this.coat = coat;
    this.factor = factor;
    this.fold(this.share);
  }

  /**
   * Fold by a share; gives the size of the part as it then lies.
   * @param {number} share
   */
  fold(share) {
    this.share = share;
    const shown = this.shown;
    if (!shown || !this.parts) return 0;
    const { nodes, rim, folded, normals, geometry, edges, folds } = this.parts;
    this.posed = pose(shown.panels.length, shown.bends, share);
    lay(this.posed, shown.region, shown.local, folded, normals);
    const whole = share > 0.999;
    if (whole && this.factor && shown.moved) {
      for (let i = 0; i < folded.length; i += 1) folded[i] += this.factor * shown.moved[i];
    }
    const position = geometry.attributes.position.array, normal = geometry.attributes.normal.array;
    const half = 0.5 * shown.thickness_mm, under = 3 * nodes;
    for (let i = 0; i < 3 * nodes; i += 1) {
      position[i] = folded[i] + half * normals[i];
      position[under + i] = folded[i] - half * normals[i];
      normal[i] = normals[i];
      normal[under + i] = -normals[i];
    }
    const line = edges.attributes.position.array;
    let at = 6 * nodes, out = 0;
    for (const [a, b] of rim) {
      const corners = [3 * a, 3 * b, under + 3 * b, under + 3 * a];
      const p = corners.map((c) => [position[c], position[c + 1], position[c + 2]]);
      const n = cross(minus(p[1], p[0]), minus(p[3], p[0]));
      for (const corner of p) {
        position.set(corner, at);
        normal.set(n, at);
        at += 3;
      }
      line.set([...p[0], ...p[1], ...p[2], ...p[3]], out);
      out += 12;
    }
    const fine = folds.attributes.position.array;
    shown.bends.forEach((/** @type {any} */ bend, /** @type {number} */ i) => {
      const away = half * 1.02;
      [0, 1].forEach((q, k) => {
        const one = onBend(this.posed, i, 0, q), two = onBend(this.posed, i, bend.width, q);
        const face = this.#bendFace(i, q);
        [away, -away].forEach((h, j) => {
          fine.set([...shift(one, face, h), ...shift(two, face, h)], 24 * i + 12 * k + 6 * j);
        });
      });
    });
    for (const each of [geometry.attributes.position, geometry.attributes.normal, edges.attributes.position, folds.attributes.position]) {
      each.needsUpdate = true;
    }
    geometry.computeBoundingSphere();
    edges.computeBoundingSphere();
    folds.computeBoundingSphere();
    this.foldLines.visible = !(this.factor && whole);
    this.material.uniforms.coat.value = this.coat === "work" && shown.share ? 1 : 0;
    this.told.hover(null);
    if (this.untouched) this.#fit();
    this.#extras(whole);
    this.ask();
    return 2 * (geometry.boundingSphere?.radius ?? 1);
  }

  /** @param {number} bend @param {number} q */
  #bendFace(bend, q) {
    const { v, n, turn } = this.posed.starts[bend];
    const t = turn * q;
    return [0, 1, 2].map((k) => Math.cos(t) * n[k] - Math.sin(t) * v[k]);
  }

  #shares() {
    const { shown, parts } = this;
    const array = parts.geometry.attributes.share.array;
    if (!shown.share) return;
    array.set(shown.share, 0);
    array.set(shown.share, parts.nodes);
    let at = 2 * parts.nodes;
    for (const [a, b] of parts.rim) {
      array.set([shown.share[a], shown.share[b], shown.share[b], shown.share[a]], at);
      at += 4;
    }
  }

  /**
   * Make panels and bends stand out, by their numbers.
   * @param {number[]} panels @param {number[]} bends
   */
  mark(panels, bends) {
    this.marked = { panels: new Set(panels), bends: new Set(bends) };
    this.#mark();
    this.ask();
  }

  #mark() {
    const { shown, parts } = this;
    if (!shown || !parts) return;
    const count = shown.panels.length, array = parts.geometry.attributes.mark.array;
    const of = (/** @type {number} */ node) => {
      const region = shown.region[node];
      return (region < count ? this.marked.panels.has(region) : this.marked.bends.has(region - count)) ? 1 : 0;
    };
    for (let i = 0; i < parts.nodes; i += 1) array[i] = array[parts.nodes + i] = of(i);
    let at = 2 * parts.nodes;
    for (const [a, b] of parts.rim) {
      array.set([of(a), of(b), of(b), of(a)], at);
      at += 4;
    }
    parts.geometry.attributes.mark.needsUpdate = true;
  }

  /**
   * Show what a dimension means: lines with their length, bends, panels. An empty list shows nothing.
   * @param {any[]} places @param {string} label
   */
  point(places, label) {
    this.places = places.map((place, index) => ({ ...place, label: index ? "" : label }));
    const names = this.shown?.panels ?? [];
    const number = (/** @type {string} */ name) => names.indexOf(name);
    const bends = places.filter((p) => p.bend).map((p) => this.#bendTo(p.bend)).filter((n) => n >= 0);
    const panels = places.flatMap((p) => p.panels ?? []).map(number).filter((n) => n >= 0);
    this.mark(panels, bends);
    if (this.shown) this.#extras(this.share > 0.999);
    this.ask();
  }

  /** @param {string} child */
  #bendTo(child) {
    const names = this.shown?.panels ?? [];
    return (this.shown?.bends ?? []).findIndex((/** @type {any} */ b) => names[b.child] === child);
  }

  /** Lines, arrows and numbers that belong to this pose. @param {boolean} whole */
  #extras(whole) {
    const { shown } = this;
    for (const each of [...this.extra.children]) {
      this.extra.remove(each);
      each.geometry?.dispose();
    }
    fill(this.over);
    /** @type {{at: number[], node: HTMLElement}[]} */
    this.labels = [];
    for (const place of this.places) if (place.from) this.#dimension(place);
    const pointing = this.places.some((place) => place.from);
    if (whole && this.showLoads && !pointing) this.#loads();
    if (whole && this.showLoads && shown.fixings.length) {
      shown.fixings.forEach((/** @type {any} */ fixing, /** @type {number} */ i) => {
        this.#label(fixing.at, make("span", { class: "fixing", text: String(i + 1) }));
      });
    }
    this.#lay();
  }

  /** @param {any} place */
  #dimension(place) {
    const panel = this.shown.panels.indexOf(place.panel);
    if (panel < 0) return;
    const high = 0.5 * this.shown.thickness_mm + 0.4;
    const one = point(this.posed, panel, place.from, high), two = point(this.posed, panel, place.to, high);
    const way = minus([...place.to, 0], [...place.from, 0]);
    const long = Math.hypot(...way) || 1;
    const tick = Math.min(8, Math.max(2, 0.03 * (this.size || 200)));
    const off = [(-way[1] / long) * tick, (way[0] / long) * tick];
    const ends = [place.from, place.to].flatMap((p) => [
      point(this.posed, panel, [p[0] - off[0], p[1] - off[1]], high), point(this.posed, panel, [p[0] + off[0], p[1] + off[1]], high),
    ]);
    const geometry = new three.BufferGeometry();
    geometry.setAttribute("position", new three.Float32BufferAttribute([...one, ...two, ...ends[0], ...ends[1], ...ends[2], ...ends[3]], 3));
    const line = new three.LineSegments(geometry, this.bright);
    line.renderOrder = 5;
    this.extra.add(line);
    if (place.label) this.#label(mid(one, two), make("span", { class: "dimension", text: place.label }));
  }

  #loads() {
    const loads = this.shown.loads;
    const long = 0.16 * (this.size || 200);
    /** @type {Map<string, number[]>} */
    const said = new Map();
    for (const load of loads) {
      const tip = new three.Vector3(...load.at), way = new three.Vector3(...load.way).normalize();
      const turn = new three.Quaternion().setFromUnitVectors(new three.Vector3(0, -1, 0), way);
      for (const [made, back] of /** @type {[any, number][]} */ ([[new three.CylinderGeometry(0.018 * long, 0.018 * long, 0.72 * long, 10), 0.64], [new three.ConeGeometry(0.07 * long, 0.28 * long, 18).rotateX(Math.PI), 0.14]])) {
        const piece = new three.Mesh(made, this.arrow);
        piece.quaternion.copy(turn);
        piece.position.copy(tip).addScaledVector(way, -back * long);
        this.extra.add(piece);
      }
      const say = this.units === "in" ? load.inch : load.say;
      const list = said.get(say) ?? [];
      if (!list.length) this.#label(tip.clone().addScaledVector(way, -1.2 * long).toArray(), make("span", { class: "load", "data-say": say }));
      list.push(1);
      said.set(say, list);
    }
    for (const { node } of this.labels ?? []) {
      const say = node.dataset.say;
      if (say) node.textContent = (said.get(say)?.length ?? 1) > 1 ? `${said.get(say)?.length} × ${say}` : say;
    }
  }

  /** @param {number[]} at @param {HTMLElement} node */
  #label(at, node) {
    this.over.append(node);
    this.labels?.push({ at, node });
  }

  /** Put the labels where their places are seen. */
  #lay() {
    const width = this.place.clientWidth, height = this.place.clientHeight;
    for (const { at, node } of this.labels ?? []) {
      const seen = new three.Vector3(...at).applyQuaternion(this.group.quaternion).project(this.camera);
      const x = (0.5 + 0.5 * seen.x) * width, y = (0.5 - 0.5 * seen.y) * height;
      node.style.transform = `translate(-50%, -50%) translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
    }
  }

  /** The view to begin with: from the right, above, in front. */
  rest() {
    this.home = true;
    this.untouched = true;
    this.#fit();
  }

  #fit() {
    if (!this.group) return;
    const box = new three.Box3().setFromObject(this.mesh), centre = box.getCenter(new three.Vector3());
    const far = this.#farEnough(box, centre);
    // A little lower than the middle: the legend stands above.
    centre.y += 0.1 * far * Math.tan((0.5 * this.camera.fov * Math.PI) / 180);
    this.controls.target.copy(centre);
    this.camera.position.copy(centre).addScaledVector(REST_VIEW, far);
    this.camera.near = far / 200;
    this.camera.far = far * 20;
    this.camera.updateProjectionMatrix();
    this.controls.update();
    this.ask();
  }

  /** How far back the whole box is seen, with room for the legend above it. @param {any} box @param {any} centre */
  #farEnough(box, centre) {
    const right = new three.Vector3(0, 1, 0).cross(REST_VIEW).normalize(), above = REST_VIEW.clone().cross(right);
    const high = Math.tan((0.5 * this.camera.fov * Math.PI) / 180) * 0.66, wide = (high / 0.66) * this.camera.aspect * 0.88;
    let far = 1;
    for (let k = 0; k < 8; k += 1) {
      const corner = new three.Vector3(k & 1 ? box.max.x : box.min.x, k & 2 ? box.max.y : box.min.y, k & 4 ? box.max.z : box.min.z).sub(centre);
      const near = corner.dot(REST_VIEW);
      far = Math.max(far, near + Math.abs(corner.dot(right)) / wide, near + Math.abs(corner.dot(above)) / high);
    }
    return far;
  }

  #size() {
    const width = Math.max(1, this.place.clientWidth), height = Math.max(1, this.place.clientHeight);
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (this.untouched) this.#fit();
    this.ask();
  }

  /** Draw at the next chance. */
  ask() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      this.camera.updateMatrixWorld();
      this.#lay();
      this.renderer.render(this.scene, this.camera);
      this.drawn = (this.drawn ?? 0) + 1;
    });
  }

  /** What lies under a place of the canvas. @param {number} clientX @param {number} clientY */
  under(clientX, clientY) {
    if (!this.mesh || !this.parts) return null;
    const box = this.renderer.domElement.getBoundingClientRect();
    const spot = new three.Vector2(((clientX - box.left) / box.width) * 2 - 1, 1 - ((clientY - box.top) / box.height) * 2);
    const ray = new three.Raycaster();
    ray.setFromCamera(spot, this.camera);
    const hit = ray.intersectObject(this.mesh, false)[0];
    if (!hit || !hit.face) return null;
    const { nodes, geometry } = this.parts, shown = this.shown;
    const corners = [hit.face.a, hit.face.b, hit.face.c];
    const position = geometry.attributes.position.array;
    const at = corners.map((c) => new three.Vector3().fromArray(position, 3 * c).applyQuaternion(this.group.quaternion));
    const weights = three.Triangle.getBarycoord(hit.point, at[0], at[1], at[2], new three.Vector3());
    if (!weights) return null;
    const w = [weights.x, weights.y, weights.z];
    const shares = geometry.attributes.share.array;
    const node = (/** @type {number} */ c) => (c < 2 * nodes ? c % nodes : this.parts.rim[Math.floor((c - 2 * nodes) / 4)][0]);
    const regions = corners.map((c) => shown.region[node(c)]);
    const sag = shown.moved ? corners.reduce((sum, c, i) => sum + w[i] * Math.hypot(...shown.moved.slice(3 * node(c), 3 * node(c) + 3)), 0) : null;
    return {
      region: Math.max(...regions),
      share: shown.share ? corners.reduce((sum, c, i) => sum + w[i] * shares[c], 0) : null,
      sag,
      distance: hit.distance,
    };
  }

  /**
   * The opening of a panel under a place of the canvas, by its number; null where there is none in sight.
   * @param {number} clientX @param {number} clientY @param {number} nearest distance of the metal under that place
   */
  through(clientX, clientY, nearest) {
    const box = this.renderer.domElement.getBoundingClientRect(), panels = this.shown?.panels ?? [];
    const seen = (/** @type {number} */ panel, /** @type {[number, number]} */ at) => {
      const there = new three.Vector3(...point(this.posed, panel, at)).applyQuaternion(this.group.quaternion);
      const far = there.distanceTo(this.camera.position), flat = there.project(this.camera);
      return [box.left + 0.5 * (flat.x + 1) * box.width, box.top + 0.5 * (1 - flat.y) * box.height, far];
    };
    let best = null, closest = Infinity;
    for (const [number, each] of this.openings.entries()) {
      const panel = each.panel === null ? -1 : panels.indexOf(each.panel);
      if (panel < 0) continue;
      const [x, y] = each.at, middle = seen(panel, [x, y]), one = seen(panel, [x + 0.5 * each.size[0], y]), other = seen(panel, [x, y + 0.5 * each.size[1]]);
      // Where the place lies between the middle and the two rims, as the opening is seen aslant.
      const a = [one[0] - middle[0], one[1] - middle[1]], b = [other[0] - middle[0], other[1] - middle[1]], p = [clientX - middle[0], clientY - middle[1]];
      const area = a[0] * b[1] - a[1] * b[0];
      if (Math.abs(area) < 1) continue;
      const u = (p[0] * b[1] - p[1] * b[0]) / area, v = (a[0] * p[1] - a[1] * p[0]) / area;
      if (u * u + v * v < 1 && middle[2] < closest && middle[2] < nearest + this.shown.thickness_mm) { best = number; closest = middle[2]; }
    }
    return best;
  }

  /** @param {PointerEvent} event */
  #hover(event) {
    if (event.buttons) { this.told.hover(null); return; }
    const found = this.under(event.clientX, event.clientY);
    const box = this.place.getBoundingClientRect();
    this.told.hover(found && { ...found, x: event.clientX - box.left, y: event.clientY - box.top });
  }

  /** @param {PointerEvent} event */
  #pick(event) {
    if (!this.down || Math.hypot(event.clientX - this.down[0], event.clientY - this.down[1]) > 4) return;
    const found = this.under(event.clientX, event.clientY);
    const opening = this.through(event.clientX, event.clientY, found ? found.distance : Infinity);
    this.told.pick(opening === null ? found : { region: -1, opening });
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const turn = 0.12, offset = this.camera.position.clone().sub(this.controls.target);
    const round = new three.Spherical().setFromVector3(offset);
    if (event.key === "ArrowLeft") round.theta -= turn;
    else if (event.key === "ArrowRight") round.theta += turn;
    else if (event.key === "ArrowUp") round.phi = Math.max(0.05, round.phi - turn);
    else if (event.key === "ArrowDown") round.phi = Math.min(Math.PI - 0.05, round.phi + turn);
    else if (event.key === "+" || event.key === "=") round.radius *= 0.88;
    else if (event.key === "-") round.radius /= 0.88;
    else if (event.key === "Home") { this.rest(); return; }
    else return;
    event.preventDefault();
    this.untouched = false;
    this.camera.position.copy(this.controls.target).add(new three.Vector3().setFromSpherical(round));
    this.controls.update();
    this.ask();
  }
}

/** Edges that belong to one triangle only: the rim of the sheet. @param {Uint32Array} triangles */
function rims(triangles) {
  /** @type {Map<number, [number, number] | null>} */
  const seen = new Map();
  const many = 2 ** 21;
  for (let i = 0; i < triangles.length; i += 3) {
    for (let k = 0; k < 3; k += 1) {
      const a = triangles[i + k], b = triangles[i + ((k + 1) % 3)];
      const key = a < b ? a * many + b : b * many + a;
      seen.set(key, seen.has(key) ? null : [a, b]);
    }
  }
  return /** @type {[number, number][]} */ ([...seen.values()].filter((edge) => edge !== null));
}

/**
 * Both skins of the sheet and the rim between them, as triangles.
 * @param {Uint32Array} triangles @param {number} nodes @param {[number, number][]} rim
 */
function skins(triangles, nodes, rim) {
  const index = new Uint32Array(2 * triangles.length + 6 * rim.length);
  index.set(triangles, 0);
  for (let i = 0; i < triangles.length; i += 3) {
    index[triangles.length + i] = nodes + triangles[i];
    index[triangles.length + i + 1] = nodes + triangles[i + 2];
    index[triangles.length + i + 2] = nodes + triangles[i + 1];
  }
  let at = 2 * triangles.length, first = 2 * nodes;
  for (let i = 0; i < rim.length; i += 1) {
    index.set([first, first + 3, first + 1, first + 1, first + 3, first + 2], at);
    at += 6;
    first += 4;
  }
  return index;
}

/** @param {number[]} a @param {number[]} b */
const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
/** @param {number[]} a @param {number[]} b */
const mid = (a, b) => [0, 1, 2].map((k) => 0.5 * (a[k] + b[k]));
/** @param {number[]} p @param {number[]} n @param {number} h */
const shift = (p, n, h) => [p[0] + h * n[0], p[1] + h * n[1], p[2] + h * n[2]];
/** @param {number[]} a @param {number[]} b */
function cross(a, b) {
  const n = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const size = Math.hypot(...n) || 1;
  return n.map((each) => -each / size);
}
/** @param {string} text @returns {[number, number, number]} */
function rgb(text) {
  const number = parseInt(text.slice(1), 16);
  return [(number >> 16) / 255, ((number >> 8) & 255) / 255, (number & 255) / 255];
}
