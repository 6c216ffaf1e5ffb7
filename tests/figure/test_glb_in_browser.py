"""A GLB that we write, as others show it: read by three.js (its GLTFLoader), drawn by a real browser's WebGL.

trimesh brings both along as one page for notebooks; what is shown there is put in its place here.
"""

from __future__ import annotations

import base64
import zipfile
from collections.abc import Callable, Iterator
from importlib import resources

import numpy as np
import pytest
from PIL import Image

from layersim import colour
from layersim.figure.glb import glb
from tests.bench_card.browser import CHROMIUM, FLAGS

trimesh = pytest.importorskip("trimesh")

SIDE = 200
WEBGL = ("--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist")
SHOWN = """
const renderer = new THREE.WebGLRenderer({antialias: true});
renderer.outputEncoding = THREE.sRGBEncoding;
renderer.setSize(SIDE, SIDE);
document.body.appendChild(renderer.domElement);
const scene = new THREE.Scene(), camera = new THREE.OrthographicCamera(-0.6, 0.6, 0.6, -0.6, 0.1, 10);
camera.position.set(0, 0, 3);
LIGHT
const bytes = Uint8Array.from(atob("BYTES"), (one) => one.charCodeAt(0)).buffer;
new THREE.GLTFLoader().parse(bytes, "", (read) => {
  scene.add(read.scene);
  renderer.render(scene, camera);
  document.title = "drawn";
}, (fault) => { document.title = `${fault}`; });
</script></body></html>"""
EVEN = "scene.add(new THREE.AmbientLight(0xffffff, 1));"
"""As much light everywhere: a surface has its own colour."""
FROM_ABOVE = "const sun = new THREE.DirectionalLight(0xffffff, 1); sun.position.set(0, 1, 0); scene.add(sun);"

Drawn = Callable[[bytes, str], np.ndarray]


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Drawn]:
    if CHROMIUM is None:
        pytest.skip("Chromium is not installed")
    from playwright.sync_api import sync_playwright

    folder = tmp_path_factory.mktemp("glb")
    with zipfile.ZipFile(str(resources.files("trimesh") / "resources/templates/viewer.zip")) as kept:
        page_of_trimesh = kept.read("viewer.html.template").decode()
    library = page_of_trimesh[: page_of_trimesh.rindex("var camera")]
    flags = [flag for flag in FLAGS if flag != "--disable-gpu"]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[*flags, *WEBGL])

        def draw(content: bytes, light: str) -> np.ndarray:
            code = base64.b64encode(content).decode()
            shown = SHOWN.replace("SIDE", str(SIDE)).replace("LIGHT", light).replace("BYTES", code)
            (folder / "shown.html").write_text(library + shown, encoding="utf-8")
            page = browser.new_page(viewport={"width": SIDE, "height": SIDE})
            page.goto((folder / "shown.html").as_uri())
            page.wait_for_function("document.title !== 'trimesh: threejs viewer'")
            assert page.title() == "drawn"
            page.screenshot(path=folder / "shown.png")
            page.close()
            with Image.open(folder / "shown.png") as image:
                return np.asarray(image.convert("RGB")).astype(int)

        yield draw
        browser.close()


def test_a_browser_shows_our_colours_where_they_are(drawn: Drawn) -> None:
    """Two halves, and a dark and a light one: what linear light is in sRGB (IEC 61966-2-1), to 2 levels."""
    ball = trimesh.creation.icosphere(4, radius=0.5)
    points = np.asarray(ball.vertices)
    left, right = np.array([0.45, 0.11, 0.02]), np.array([0.012, 0.035, 0.18])
    linear = np.where(points[:, :1] < 0.0, left, right)
    content = glb(points, ball.faces, np.asarray(ball.vertex_normals), linear, name="ball")
    seen = drawn(content, EVEN)
    middle = SIDE // 2
    for expected, across in ((left, middle - 40), (right, middle + 40)):
        level = 255.0 * colour.encode_srgb(expected)
        assert seen[middle - 20 : middle + 20, across - 10 : across + 10] == pytest.approx(
            np.broadcast_to(level, (40, 20, 3)), abs=2
        )


def test_a_browser_lights_it_from_outside(drawn: Drawn) -> None:
    """Under a lamp above, a ball is light where it faces it, by cos 60° half way up, and black below."""
    ball = trimesh.creation.icosphere(5, radius=0.5)
    points = np.asarray(ball.vertices)
    content = glb(points, ball.faces, np.asarray(ball.vertex_normals), np.full_like(points, 0.5), name="b")
    seen = drawn(content, FROM_ABOVE)
    up = SIDE * 0.5 / 1.2
    at = [seen[int(SIDE / 2 - height * up), SIDE // 2, 0] for height in (0.97, 0.5, -0.5)]
    assert at[0] > at[1] + 30 > at[2] + 60
    # Without gloss 0.25; a little gloss is in it, too.
    assert at[1] == pytest.approx(255.0 * float(colour.encode_srgb(np.array(0.25))), abs=8)
    assert at[2] <= 2
