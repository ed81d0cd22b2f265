// Loads GLB files as a web page would, with three.js and its decoder: see test_gltf_loaded.py, which bundles this.
import { Box3, Color, DirectionalLight, HemisphereLight, PerspectiveCamera, Scene, Vector3, WebGLRenderer } from "three";
import { GLTFLoader } from "three/examples/jsm/loaders/GLTFLoader.js";
import { MeshoptDecoder } from "three/examples/jsm/libs/meshopt_decoder.module.js";

const VARIANTS = "KHR_materials_variants";

async function opened(base64) {
  const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
  return new GLTFLoader().setMeshoptDecoder(MeshoptDecoder).parseAsync(bytes.buffer, "");
}

function bodies({ scene }) {
  scene.updateMatrixWorld(true);
  const found = [];
  scene.traverse((node) => {
    if (!node.isMesh) return;
    const box = new Box3().setFromObject(node, true);
    const above = [];
    for (let at = node.parent; at; at = at.parent) above.push(at.userData.name ?? at.name);
    found.push({
      name: node.userData.name,
      above,
      low: box.min.toArray(),
      high: box.max.toArray(),
      triangles: node.geometry.index.count / 3,
      finish: node.material.name,
    });
  });
  return found;
}

// The finish of every piece in each variant, as the extension tells it to a viewer.
async function variants(gltf) {
  const names = (gltf.userData.gltfExtensions?.[VARIANTS] ?? gltf.parser.json.extensions[VARIANTS]).variants;
  const found = {};
  for (const [number, { name }] of names.entries()) {
    found[name] = {};
    const meshes = [];
    gltf.scene.traverse((node) => node.isMesh && meshes.push(node));
    for (const mesh of meshes) {
      const mappings = mesh.userData.gltfExtensions?.[VARIANTS]?.mappings ?? [];
      const mapping = mappings.find((each) => each.variants.includes(number));
      if (mapping) {
        mesh.material = await gltf.parser.getDependency("material", mapping.material);
        gltf.parser.assignFinalMaterial(mesh);
      }
      found[name][mesh.userData.name] = mesh.material.name;
    }
  }
  return found;
}

// A picture of the whole: rows of red, green, blue, alpha.
function picture({ scene }, width, height) {
  const renderer = new WebGLRenderer({ antialias: false, preserveDrawingBuffer: true });
  renderer.setSize(width, height, false);
  const room = new Scene();
  room.background = new Color(0x404040);
  const sun = new DirectionalLight(0xffffff, 3);
  sun.position.set(2, 3, 4);
  room.add(scene, sun, new HemisphereLight(0xffffff, 0x808080, 1));
  const box = new Box3().setFromObject(scene);
  const middle = box.getCenter(new Vector3());
  const camera = new PerspectiveCamera(35, width / height, 0.01, 100);
  camera.position.copy(middle).add(new Vector3(0.5, 0.6, 1).multiplyScalar(box.getSize(new Vector3()).length()));
  camera.lookAt(middle);
  renderer.render(room, camera);
  const pixels = new Uint8Array(4 * width * height);
  const gl = renderer.getContext();
  gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
  renderer.dispose();
  return Array.from(pixels);
}

window.bodies = async (base64) => bodies(await opened(base64));
window.variants = async (base64) => variants(await opened(base64));
window.picture = async (base64, width, height) => picture(await opened(base64), width, height);
