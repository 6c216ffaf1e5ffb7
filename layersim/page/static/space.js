// A form in space, drawn by the graphics hardware. The library for that is loaded once there is a form to be seen.

const VIEW_DEG = 24;
const ROOM = 1.04;
const FINEST = 2;

// Colours come as a screen has them, and light is laid on them as light: three.js's own words for both ways.
// The light is the studio of the program's pictures (F12), which turns with the eye; but here nothing casts a shadow of
// the lamp: a place has as much of it as of the dome.
const POINTS = `
  #include <colorspace_pars_fragment>
  attribute vec3 colour, shine, lobe;
  attribute float sky;
  varying vec3 painted, shining, across, place, facets;
  void main() {
    painted = sRGBTransferEOTF(vec4(colour, 1.0)).rgb * sky;
    shining = shine * sky;
    facets = lobe;
    across = normalMatrix * normal;
    vec4 seen = modelViewMatrix * vec4(position, 1.0);
    place = seen.xyz;
    gl_Position = projectionMatrix * seen;
  }`;
// What metal sends to the eye is (L6) and (L8) of the program's optics: facets in a binder of index N, under a surface
// that may be rough. Points without metal have no shine.
const PIXELS = `
  const float N = 1.5;
  uniform float dome, above;
  varying vec3 painted, shining, across, place, facets;
  float inside(float outside) { return sqrt(1.0 - (1.0 - outside * outside) / (N * N)); }
  float passed(float outside, float within) {
    float one = (outside - N * within) / (outside + N * within), other = (N * outside - within) / (N * outside + within);
    return 1.0 - 0.5 * (one * one + other * other);
  }
  float glint(vec3 normal, vec3 light, vec3 eye) {
    vec2 facing = vec2(dot(normal, light), dot(normal, eye)), outside = clamp(facing, 0.001, 1.0);
    vec2 within = vec2(inside(outside.x), inside(outside.y));
    vec3 one = light - facing.x * normal, other = eye - facing.y * normal, smooth_half = (one + other) / N;
    vec2 flatter = within / max(outside, 0.5) - 1.0 / N;
    vec3 half_way = smooth_half + facets.z * (flatter.x * one + flatter.y * other);
    float both = pow(within.x + within.y, 2.0), slope2 = dot(half_way, half_way) / both;
    float weight = passed(outside.x, within.x) * passed(outside.y, within.y) * pow(1.0 + dot(smooth_half, smooth_half) / both, 2.0);
    return weight / (8.0 * within.x * within.y * N * N) * exp(-0.5 * slope2 / max(facets.x, 1e-6)) * facets.y;
  }
  void main() {
    vec3 normal = normalize(gl_FrontFacing ? across : -across), light = vec3(0.0, sin(above), cos(above));
    float lamp = max(dot(normal, light), 0.0) / cos(above);
    vec3 seen = painted * mix(lamp, 1.0, dome);
    seen += shining * mix(lamp * glint(normal, light, normalize(-place)), 1.0, dome);
    // What outshines white keeps its hue.
    gl_FragColor = vec4(seen / max(max(seen.r, seen.g), max(seen.b, 1.0)), 1.0);
    #include <colorspace_fragment>
  }`;

/** Take a form apart as the program sends it: two counts, then places, normals and light of points, then triangles. */
function taken_apart(buffer) {
  const [points, faces] = new Uint32Array(buffer, 0, 2);
  let at = 8;
  const next = (Kind, count) => {
    const found = new Kind(buffer, at, count);
    at += found.byteLength;
    return found;
  };
  const of_point = { position: 3, normal: 3, sky: 1 };
  const found = Object.entries(of_point).map(([name, size]) => [name, next(Float32Array, size * points), size]);
  return { of_points: found, faces: next(Uint32Array, 3 * faces) };
}

/**
 * Make one, in the light of a studio. Returns null where there is no such hardware. `lost(whether)` is called when the
 * hardware is taken away for a time, and when it is back.
 */
export async function space({ dome, above_deg }, lost) {
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("webgl2", { alpha: true, antialias: true });
  if (!context) return null;
  const three = await import("./vendor/three.module.min.js");
  const renderer = new three.WebGLRenderer({ canvas, context, alpha: true });
  renderer.toneMapping = three.NoToneMapping;
  renderer.outputColorSpace = three.SRGBColorSpace;
  const scene = new three.Scene();
  const camera = new three.PerspectiveCamera(VIEW_DEG, 1, 0.01, 100);
  const solid = new three.Mesh(
    new three.BufferGeometry(),
    new three.ShaderMaterial({
      vertexShader: POINTS,
      fragmentShader: PIXELS,
      side: three.DoubleSide,
      uniforms: { dome: { value: dome }, above: { value: (above_deg * Math.PI) / 180 } },
    }),
  );
  scene.add(solid);
  let radius = 1;
  let waits = null;
  let view = null;

  /** Draw once for all that changes until the screen is drawn next; resolves when it is. */
  function draw(wanted = view) {
    view = wanted;
    waits ??= new Promise((drawn) =>
      requestAnimationFrame(() => {
        waits = null;
        now();
        drawn();
      }),
    );
    return waits;
  }

  function now() {
    const { clientWidth: width, clientHeight: height } = canvas;
    if (!view || !width || !height || !solid.geometry.attributes.colour) return;
    renderer.setPixelRatio(Math.min(devicePixelRatio, FINEST));
    renderer.setSize(width, height, false);
    camera.aspect = width / height;
    const narrow = Math.min(camera.aspect, 1);
    const half = Math.atan(narrow * Math.tan((VIEW_DEG * Math.PI) / 360));
    const away = (ROOM * radius) / Math.sin(half) / view.near;
    const [around, above] = [(view.around * Math.PI) / 180, (view.above * Math.PI) / 180];
    camera.position.setFromSphericalCoords(away, Math.PI / 2 - above, around);
    camera.near = Math.max(away - radius, away / 100);
    camera.far = away + radius;
    camera.lookAt(0, 0, 0);
    camera.updateProjectionMatrix();
    renderer.render(scene, camera);
  }

  function put_form(buffer) {
    const { of_points, faces } = taken_apart(buffer);
    solid.geometry.dispose();
    solid.geometry = new three.BufferGeometry();
    for (const [name, values, size] of of_points) solid.geometry.setAttribute(name, new three.BufferAttribute(values, size));
    solid.geometry.setIndex(new three.BufferAttribute(faces, 1));
    const [[, places]] = of_points;
    radius = 0;
    for (let i = 0; i < places.length; i += 3) radius = Math.max(radius, Math.hypot(places[i], places[i + 1], places[i + 2]));
    solid.geometry.boundingSphere = new three.Sphere(new three.Vector3(), radius);
  }

  /** Paint it: red, green, blue and one byte more for each point; then, where there is metal, its shine and lobe. */
  function put_colours(buffer) {
    const old = solid.geometry.attributes.colour;
    const length = 4 * solid.geometry.attributes.position.count;
    const bytes = new Uint8Array(buffer, 0, length);
    const more = new Float32Array(buffer, length);
    const known = solid.geometry.attributes.shine?.data;
    if (known) {
      if (more.length) known.array.set(more);
      else known.array.fill(0);
      known.needsUpdate = true;
    } else if (more.length) {
      const six = new three.InterleavedBuffer(more, 6).setUsage(three.DynamicDrawUsage);
      solid.geometry.setAttribute("shine", new three.InterleavedBufferAttribute(six, 3, 0));
      solid.geometry.setAttribute("lobe", new three.InterleavedBufferAttribute(six, 3, 3));
    }
    if (old) {
      old.array.set(bytes);
      old.needsUpdate = true;
    } else {
      const fresh = new three.BufferAttribute(bytes, 4, true);
      fresh.setUsage(three.DynamicDrawUsage);
      solid.geometry.setAttribute("colour", fresh);
    }
    draw();
  }

  canvas.addEventListener("webglcontextlost", () => lost(true));
  canvas.addEventListener("webglcontextrestored", () => (lost(false), draw()));
  new ResizeObserver(() => draw()).observe(canvas);
  return { canvas, put_form, put_colours, draw };
}
