# ---
# jupyter:
#   jupytext:
#     formats: py:percent
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # The scheme on a model
#
# Strips are charts; painters think in figures. Here the invented lamplighters' scheme is seen on a figure:
# first on a photograph of it as it stands preshaded, then on a form in space. Both figures are our own,
# made of simple solids; nobody sculpted, sprayed or photographed them.

# %%
import numpy as np

import layersim
from layersim import colour
from layersim.figure.areas import AreaPlace, cover_of
from layersim.figure.figure import paint_figure
from layersim.figure.form import read_form
from layersim.figure.onform import paint_form
from layersim.figure.seen import read_model
from layersim.fitting.chip import Grey
from layersim.resources import data_folder

scheme = layersim.load_scheme(layersim.demo_scheme())
examples = data_folder() / "examples"

# %% [markdown]
# ## A photograph
#
# A grey card lies in the picture, at 11 and 88 per cent of its width and height. By it the camera's
# numbers become greys, and each grey is a place on the shade axis. A mask says where an area is.

# %%
model = read_model(examples / "lamplighter.jpg", greys=[Grey((11.0, 88.0))])
size = {"height": model.photograph.height, "width": model.photograph.width}
masks = {"wax cloth": "cloth", "straps": "straps", "lamp glass": "glass"}
covers = {
    area: cover_of(AreaPlace(area, examples / f"lamplighter-{name}.png"), **size)
    for area, name in masks.items()
}
figure = paint_figure(scheme, model, covers, side_px=140, between="before the filter")
for area in figure.areas:
    print(
        f"{area.name}: L* {area.seen[0]:.0f} to {area.seen[1]:.0f} in the picture, "
        f"{area.axis[0]:.0f} to {area.axis[1]:.0f} in the scheme"
    )

# %%
figure

# %% [markdown]
# How much the filter does on the figure itself, over the pixels of the cloth:

# %%
cloth = next(area for area in scheme.predict().areas if area.name == "wax cloth")
before, after = cloth.filter_span
print(f"ΔE00 along the axis: {np.round(colour.delta_e_2000(cloth.lab[before], cloth.lab[after]), 1)}")

# %% [markdown]
# ## A form in space
#
# Without a photograph a mesh does. White is sprayed from above and lands where nothing is in the way.

# %%
form = read_form(data_folder() / "forms" / "lamplighter.glb")
parts = {"cloth": "wax cloth", "straps": "straps", "glass": "lamp glass"}
seen = paint_form(scheme, form, parts, name="the lamplighter", size_px=84, between="before the filter")
print(f"{len(form.faces)} triangles in {len(form.parts)} parts")

# %%
seen
