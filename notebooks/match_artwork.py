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
# # Which mix comes closest to the artwork?
#
# From a picture to targets, from targets to mixes, and what to do if none of them will do. The picture, the
# paints and the scheme are invented. This file is a notebook in percent format: open it in any
# notebook program that reads it, or run it as it is.

# %%
import tempfile
from pathlib import Path

import numpy as np
from PIL import Image

import layersim
from layersim.decide import artwork as art
from layersim.views.artwork import sentences
from layersim.views.match import remedy_words, why_words

# %% [markdown]
# ## A picture
#
# A cloak that turns from shadow into light, on a plain ground. Any PNG, JPEG, WebP or TIFF will do.

# %%
folder = Path(tempfile.mkdtemp())
pixels = np.full((200, 300, 3), (205, 198, 180), dtype=np.uint8)
light = np.linspace(0.0, 1.0, 160)[np.newaxis, :, np.newaxis]
pixels[30:190, 70:230] = (1.0 - light) * (44, 52, 76) + light * (120, 138, 178)
Image.fromarray(pixels).save(folder / "cloak.png")

picture = layersim.read_artwork(folder / "cloak.png")
colours = art.main_colours(picture)
for patch in colours:
    print(f"colour {patch.name}: {patch.share:4.0%} of the picture, L*a*b* {np.round(patch.lab)}")

# %% [markdown]
# ## Targets
#
# The largest family of one hue is proposed. `art.patch_in` takes regions that you point at.

# %%
chosen = art.proposed_targets(picture, colours)
targets = art.targets_from(chosen)
for name, patch in chosen.items():
    print(f"{name:<6} {np.round(patch.lab, 1)}")
for sentence in sentences(picture, chosen, proposed=True):
    print("Note:", sentence)

# %% [markdown]
# ## Search
#
# A part of the shelf, up to two paints, so that this is done at once; by default all of it is
# searched, up to three paints in twelve drops.

# %%
scheme = layersim.load_scheme(layersim.demo_scheme())
names = ["navy blue", "blue ink", "black ink", "neutral grey", "pale blue grey", "sky blue", "violet glaze"]
owned = [layersim.Shelf.usual().find(name) for name in names]
found = layersim.match(
    scheme,
    area="wax cloth",
    coat="base",
    paints=owned,
    targets=targets,
    limits=layersim.Limits(paints_at_most=2, drops=8),
)
for number, answer in enumerate(found.answers, start=1):
    print(f"{number}. {answer.coat.words()}")
    print(f"   ΔE00 mean {answer.mean:.1f}, worst {answer.worst:.1f}; one drop wrong: {answer.one_drop:.1f}")

# %% [markdown]
# Each answer is the area with the new coat in it, so all else can be asked of it: a preview, a
# comparison, its tolerance.
#
# ## Out of reach?

# %%
reach = layersim.reach_of(found)
print("reached" if reach.reached else "not quite reached")
for miss in reach.misses:
    print(f"{miss.place}: ΔE00 {miss.delta_e:.1f}; {why_words(miss)}")
for remedy in reach.remedies:
    print(f"would come to {remedy.closeness:.1f}: {remedy_words(remedy)}")

# %% [markdown]
# ## The picture

# %%
found

# %% [markdown]
# ## And if it came out otherwise?
#
# A chip of the finished middle tone was measured, a little too light and too violet.

# %%
chip = found.answers[0].prediction.lab[-1, 4] + np.array([4.0, 3.0, -2.0])
back = layersim.correct(scheme, area="wax cloth", found={"mid": chip}, targets=targets, paints=owned)
if back.smallest is None:
    print("leave it")
else:
    print(f"{back.smallest.coat.words()}: ΔE00 {back.closeness:.1f} becomes {back.smallest.closeness:.1f}")
